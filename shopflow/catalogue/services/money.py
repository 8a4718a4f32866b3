"""The shop's terms, its bands of material, and how much each side of a piano counts."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db import transaction

from shopflow.catalogue.models import MaterialBand, Terms
from shopflow.common.refusals import Refused
from shopflow.people.models import Person

from .version import setting_up

TERMS = [
    "currency",
    "margin_percent",
    "round_to",
    "deposit_percent",
    "holds_days",
    "surprise",
    "surprise_percent",
    "decide_days",
    "warranty",
    "care",
    "letter_foot",
]
WEIGHTS = ["weighs_safety", "weighs_playing", "weighs_tone", "weighs_looks", "weighs_durability"]


@transaction.atomic
def change_terms(*, by: Person, **facts: Any) -> Terms:
    """What is sent already keeps its prices and terms; drafts follow when they are filled anew."""
    setting_up(by)
    return _keep({name: facts[name] for name in TERMS})


@transaction.atomic
def change_weights(*, by: Person, **weights: int) -> Terms:
    """How much each side counts from now on, whenever work is chosen for a sum of money."""
    setting_up(by)
    kept = {name: weights[name] for name in WEIGHTS}
    if not any(kept.values()):
        raise Refused("At least one of the five has to count; got 0 for all.", field=WEIGHTS[0])
    return _keep(kept)


@transaction.atomic
def change_band(
    *, band: MaterialBand, figures: tuple[Decimal, Decimal, Decimal], basis: str, by: Person
) -> MaterialBand:
    setting_up(by)
    low, likely, high = figures
    if not low <= likely <= high:
        raise Refused(unless_rising(figures), field="low")
    band.low, band.likely, band.high, band.basis = low, likely, high, basis
    band.save()
    return band


def unless_rising(figures: tuple[Decimal, Decimal, Decimal]) -> str:
    """What is said of figures that fall."""
    low, likely, high = figures
    return f"Got {low} / {likely} / {high}; low, likely and high must rise or stay equal."


def _keep(facts: dict[str, Any]) -> Terms:
    kept, _ = Terms.objects.update_or_create(pk=1, defaults=facts)
    return kept
