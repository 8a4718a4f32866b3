"""What an operation costs the shop and what the shop asks: worked cases, by hand."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shopflow.catalogue.models import Department, MaterialBand, Operation, Terms
from shopflow.compute.hours import learn
from shopflow.offers.pricing import Prices, Range, together

HOURS = {"low": Decimal(2), "likely": Decimal(4), "high": Decimal(9)}
STRIP = Operation(
    pk=1,
    code="strip",
    department=Department(rate=Decimal("36.50")),
    materials="M2",
    outside_cost=Decimal(20),
    **{f"upright_{step}": hours for step, hours in HOURS.items()},
)
BAND = MaterialBand(code="M2", low=Decimal(100), likely=Decimal(180), high=Decimal(300))


def prices(learned=None, **terms):
    return Prices(
        "upright",
        Terms(**({"margin_percent": Decimal(25), "round_to": 10} | terms)),
        {"M2": BAND},
        learned or {},
    )


def test_hours_times_rate_and_materials_and_outside_work_and_then_the_margin():
    line = prices().line(STRIP)
    assert (line.hours, line.cost) == (Decimal(4), Decimal("346.00"))  # 4 × 36.50 + 180 + 20
    assert line.price == Decimal("432.50")  # × 1.25
    assert line.jobs == 0


def test_a_range_has_the_low_and_high_of_hours_and_materials():
    found = prices().line(STRIP).price_range
    assert found.low == Decimal("241.25")  # (2 × 36.50 + 100 + 20) × 1.25
    assert found.high == Decimal("810.63")  # (9 × 36.50 + 300 + 20) × 1.25 = 810.625, half a penny up


def test_ranges_add_up_in_squares():
    found = together(
        [Range(Decimal(70), Decimal(100), Decimal(130)), Range(Decimal(160), Decimal(200), Decimal(240))]
    )
    assert found == Range(Decimal("250.00"), Decimal("300.00"), Decimal("350.00"))  # √(30² + 40²) = 50


@pytest.mark.parametrize(
    ("price", "step", "rounded"),
    [("432.50", 10, 440), ("440.00", 10, 440), ("440.01", 50, 450), ("0", 10, 0)],
)
def test_a_job_is_rounded_up_to_the_shops_step(price, step, rounded):
    assert prices(round_to=step).rounded(Decimal(price)) == rounded


def test_what_keeps_a_budget_before_rounding_keeps_it_after():
    asked = prices(round_to=50)
    assert asked.steps_within(Decimal("1234.99")) == 1200
    assert asked.rounded(Decimal("1200.00")) <= Decimal("1234.99") < asked.rounded(Decimal("1200.01"))


def test_the_shops_own_finished_work_moves_the_hours():
    known = learn(2, 4, 9, [8.0] * 30)
    line = prices({1: known}).line(STRIP)
    assert line.jobs == 30
    assert Decimal(6) < line.hours <= Decimal(8)


def test_work_that_is_not_done_on_this_kind_takes_no_hours():
    assert Prices("grand", Terms(), {}, {}).line(STRIP).hours == 0


def test_no_band_means_no_materials():
    assert Prices("upright", Terms(margin_percent=Decimal(0)), {}, {}).line(STRIP).cost == Decimal("166.00")
