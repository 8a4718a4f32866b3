"""Odds as one would say them at a bench."""

from __future__ import annotations


def odds_in_words(odds: float) -> str:
    """A share of cases in words.

    >>> odds_in_words(0.31), odds_in_words(0.02), odds_in_words(0.97), odds_in_words(0.5)
    ('3 in 10', 'hardly ever', 'nearly sure', '5 in 10')
    """
    if odds < 0.05:
        return "hardly ever"
    if odds > 0.95:
        return "nearly sure"
    return f"{min(9, max(1, round(10 * odds)))} in 10"
