"""How a deposit grows with the minutes in the tank."""

from __future__ import annotations

from shopflow.common import charts
from shopflow.common.charts.chart import Chart
from shopflow.readings.measures import DEPOSIT
from shopflow.readings.parts import Given


def growth_line(given: Given, got: Given, units: str) -> Chart:
    """How the deposit grows with the minutes, against the thickness that is wanted."""
    unit = DEPOSIT.unit(units)
    wanted, needed = unit.shown(given["thickness_um"]), got["needed_min"]
    hung = float(given.get("minutes") or 0)
    longest = max(needed, hung) * 1.2
    moments = [longest * step / 12 for step in range(13)]
    grown = [round(wanted * moment / needed, 4) for moment in moments]
    so_far = [each if moment <= hung else None for moment, each in zip(moments, grown, strict=True)]
    return charts.lines(
        title="Thickness over time",
        description=f"{wanted:.3g} {unit.name} after {needed:.0f} min; {hung:.0f} min so far.",
        labels=[f"{moment:.0f}" for moment in moments],
        series=[charts.Series("thickness", grown, "brass"), charts.Series("so far", so_far, "steel")],
        head="min",
        target=charts.Target("wanted", wanted),
    )
