"""Words about instruments that were written before."""

from __future__ import annotations

from ..models import Instrument


def known_words() -> dict[str, list[str]]:
    """Makers and places written before, to choose from instead of typing them a second way."""
    return {name: _written_before(field) for name, field in (("makers", "maker"), ("places", "place"))}


def _written_before(field: str) -> list[str]:
    words = Instrument.objects.exclude(**{field: ""}).order_by(field).values_list(field, flat=True)
    return list(words.distinct())
