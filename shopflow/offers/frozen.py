"""What was put before a customer, kept word for word, with a print that tells one wording from another."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

Words = dict[str, Any]


def fingerprint_of(words: Mapping[str, Any]) -> str:
    """The same for the same words, whatever their order of mention.

    >>> fingerprint_of({"a": 1, "b": "x"}) == fingerprint_of({"b": "x", "a": 1})
    True
    """
    plain = json.dumps(words, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(plain.encode("utf-8", "surrogatepass")).hexdigest()


def money(amount: Decimal | None, sign: str) -> str:
    """An amount as it is printed; whole ones without pence.

    >>> money(Decimal("1240.00"), "£"), money(Decimal("12.50"), "£"), money(None, "£")
    ('£1,240', '£12.50', '')
    """
    if amount is None:
        return ""
    whole = amount == amount.to_integral_value()
    return f"{sign}{amount:,.0f}" if whole else f"{sign}{amount:,.2f}"


def days_in_words(low: int | None, high: int | None) -> str:
    """How much later it will be done.

    >>> days_in_words(4, 9), days_in_words(0, 0), days_in_words(1, 1), days_in_words(None, None)
    ('4 to 9 days later', 'no later than now planned', '1 day later', '')
    """
    given = [days for days in (low, high) if days is not None]
    if not given:
        return ""
    least, most = given[0], given[-1]
    if most <= 0:
        return "no later than now planned"
    span = f"{most}" if least == most else f"{least} to {most}"
    return f"{span} day{'' if most == 1 else 's'} later"


def day_in_words(day: date | None) -> str:
    """
    >>> day_in_words(date(2026, 3, 9))
    '9 March 2026'
    """
    return f"{day.day} {day:%B %Y}" if day else ""
