"""What a repair is worth: the documented rule, case by case."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shopflow.catalogue.models import FindingKind, Remedy, Terms
from shopflow.instruments.models import Finding
from shopflow.instruments.selectors.findings import CurrentFinding
from shopflow.offers.benefit import benefit, harm

# 5 + 3 + 3 + 1 + 2 = 14
TERMS = Terms(weighs_safety=5, weighs_playing=3, weighs_tone=3, weighs_looks=1, weighs_durability=2)


def found(severity=4, *, extent=None, unit="", confidence="seen", **touches):
    row = Finding(
        severity=severity, extent=extent, extent_unit=unit, confidence=confidence, kind=FindingKind(**touches)
    )
    return CurrentFinding(row, row)


def test_the_worst_there_is_comes_to_100():
    everything = dict.fromkeys(("safety", "playing", "tone", "looks", "durability"), 3)
    assert harm(found(4, **everything), TERMS) == pytest.approx(100)


def test_severity_and_touch_count_in_proportion():
    assert harm(found(4, tone=3), TERMS) == pytest.approx(100 * 3 / 14)
    assert harm(found(2, tone=3), TERMS) == pytest.approx(50 * 3 / 14)
    assert harm(found(4, tone=1, looks=3), TERMS) == pytest.approx(100 * (1 + 1) / 14)
    assert harm(found(0, tone=3), TERMS) == 0


@pytest.mark.parametrize(
    ("extent", "unit", "share"),
    [
        (88, "of-88", 1),
        (44, "of-88", 0.75),
        (0, "of-88", 0.5),
        (230, "of-230", 1),
        (50, "percent", 0.75),
        (400, "mm", 1),
        (200, "percent", 1),
    ],
)
def test_extent_counts_by_half(extent, unit, share):
    whole = harm(found(4, tone=3), TERMS)
    assert harm(found(4, tone=3, extent=Decimal(extent), unit=unit), TERMS) == pytest.approx(share * whole)


def test_what_was_not_seen_counts_less():
    seen, inferred, hidden = (
        harm(found(4, tone=3, confidence=word), TERMS) for word in ("seen", "inferred", "hidden")
    )
    assert (inferred / seen, hidden / seen) == (pytest.approx(0.8), pytest.approx(0.5))


def test_a_remedy_is_worth_the_share_that_it_cures_to_a_tenth():
    assert benefit(found(4, tone=3), Remedy(cures=100), TERMS) == 21.4  # 100 × 3/14 = 21.43
    assert benefit(found(4, tone=3), Remedy(cures=50), TERMS) == 10.7


def test_other_weights_are_another_order():
    looks, tone = found(2, looks=3), found(2, tone=3)
    assert harm(looks, TERMS) < harm(tone, TERMS)
    vain = Terms(weighs_safety=5, weighs_playing=0, weighs_tone=1, weighs_looks=9, weighs_durability=0)
    assert harm(looks, vain) > harm(tone, vain)


def test_where_nothing_counts_nothing_is_worth_anything():
    nothing = Terms(weighs_safety=0, weighs_playing=0, weighs_tone=0, weighs_looks=0, weighs_durability=0)
    assert harm(found(4, safety=3), nothing) == 0
