"""Moisture that wood takes from a room's air, by equation and table; whether it is dry enough to shim."""

from __future__ import annotations

from shopflow.catalogue.models import Units
from shopflow.common.charts import Chart
from shopflow.compute.errors import ComputeError
from shopflow.compute.moisture_table import tabled_moisture
from shopflow.compute.wood import equilibrium_moisture
from shopflow.readings.forms.fields import MeasureField, SumForm
from shopflow.readings.measures import PERCENT, TEMPERATURE, Quantity, Unit, add_quantities, tidy
from shopflow.readings.parts import Given, Outcome, Output, Sum
from shopflow.readings.pictures import Mark, gauge
from shopflow.readings.selectors.air import latest_air
from shopflow.workshop.models import Task

DRY_ENOUGH = 6.0
MOISTURE = Quantity("moisture", Unit("%"), Unit("%"), 1, 1)
add_quantities(MOISTURE)


class ShimForm(SumForm):
    temp_c = MeasureField(label="Air", quantity=TEMPERATURE, least=-2, most=93)
    rh = MeasureField(label="Relative humidity", quantity=PERCENT, least=1, most=99)


def answer(given: Given) -> Outcome:
    by_equation = equilibrium_moisture(**given)
    is_dry = by_equation < DRY_ENOUGH
    words = "Dry enough to shim by the usual rule" if is_dry else "Not dry enough to shim by the usual rule"
    return Outcome(
        outputs=[
            Output("moisture", "Wood settles at, by the equation", by_equation, MOISTURE),
            Output("tabled", "by the printed table", _tabled(given), MOISTURE),
        ],
        verdict=f"{words}: under {DRY_ENOUGH:g} %, once the wood has settled in this air.",
        tone="good" if is_dry else "wait",
        notes=[
            "Wood needs days to settle: 5 to 14 are planned (common practice, no source). A meter with "
            "pins reads "
            "poorly below 6 %.",
            "The 6 % are a rebuilder’s on a technicians’ list (2000). Some rebuilders doubt that drying "
            "helps at "
            "all (the same list, 1999 and 2001).",
            "Both figures are averages over species; table and equation differ by at most 0.06 at printed "
            "places.",
        ],
    )


def _tabled(given: Given) -> float | str:
    try:
        return tabled_moisture(given["temp_c"], given["rh"])
    except ComputeError:
        return "outside the printed table"


def picture(given: Given, got: Given, units: str) -> Chart:
    moisture = got["moisture"]
    return gauge(
        title="Moisture of the wood, once settled",
        description=f"The wood settles at {moisture:.1f} %; the usual rule for shims asks for less than 6 %.",
        marks=[
            Mark("dry for shims", DRY_ENOUGH, up=False),
            Mark(f"this air {moisture:.1f}", moisture, bold=True),
        ],
        bad_until=0.0,
        unit="% of the dry weight",
    )


def usual(task: Task, units: str) -> dict[str, str]:
    """The freshest air of the house, where some was noted today."""
    air = next(iter(latest_air()), None)
    if air is None:
        return {}
    unit = TEMPERATURE.unit(units)
    places = 1 if units == Units.METRIC else 0
    return {"temp_c": tidy(unit.shown(air.temp_c), places), "rh": tidy(air.rh_percent, 0)}


SUM = Sum(
    code="shim",
    title="Dry enough to shim?",
    intro="What the air of the room, or of the drying box, makes of the wood.",
    source="Wood Handbook, FPL-GTR-190 (2010), equation 4-5 and Table 4-2.",
    version="wood 1",
    form=ShimForm,
    answer=answer,
    picture=picture,
    usual=usual,
)
