"""How a deposit grows with the minutes in the tank."""

from __future__ import annotations

import math

from shopflow.common import charts
from shopflow.common.charts.chart import Chart
from shopflow.readings.measures import DEPOSIT
from shopflow.readings.parts import Given

STEPS = 12


def even_step(longest: float) -> float:
    """The round number of minutes of which twelve reach that far.

    >>> even_step(21.3), even_step(60), even_step(1.1), even_step(700)
    (2.0, 5.0, 0.1, 100.0)
    """
    least = longest / STEPS
    decade = 10.0 ** math.floor(math.log10(least))
    return next(round(decade * each, 6) for each in (1, 2, 5, 10) if decade * each >= least * (1 - 1e-9))


def growth_line(given: Given, got: Given, units: str) -> Chart:
    """How the deposit grows with the minutes, against the thickness that is wanted."""
    unit = DEPOSIT.unit(units)
    wanted, needed = unit.shown(given["thickness_um"]), got["needed_min"]
    hung = float(given.get("minutes") or 0)
    step = even_step(max(needed, hung) * 1.1)
    moments = [step * each for each in range(STEPS + 1)]
    grown = [round(wanted * moment / needed, 4) for moment in moments]
    so_far = [each if moment <= hung else None for moment, each in zip(moments, grown, strict=True)]
    return charts.lines(
        title="Thickness over time",
        description=f"{wanted:.3g} {unit.name} after {needed:.0f} min; {hung:.0f} min so far.",
        labels=[f"{moment:g}" for moment in moments],
        series=[charts.Series("thickness", grown, "brass"), charts.Series("so far", so_far, "steel")],
        head="min",
        target=charts.Target("wanted", wanted),
    )
