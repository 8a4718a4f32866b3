"""May we coat now: how far the work stands above the dew point, and how damp the air is."""

from __future__ import annotations

from shopflow.compute import film
from shopflow.readings.forms.fields import MeasureField, SumForm
from shopflow.readings.measures import DEGREES_APART, PERCENT, TEMPERATURE
from shopflow.readings.parts import Given, Outcome, Output, Sum
from shopflow.readings.pictures import margin_gauge

VERSION = "film 1"


class MayCoatForm(SumForm):
    temp_c = MeasureField(label="Air", quantity=TEMPERATURE, least=-45, most=60)
    rh = MeasureField(label="Relative humidity", quantity=PERCENT, least=1, most=100)
    surface_c = MeasureField(label="The work itself", quantity=TEMPERATURE, least=-45, most=100)
    margin_c = MeasureField(
        label="Above the dew point at least", quantity=DEGREES_APART, least=0, most=30, initial="3"
    )
    highest_rh = MeasureField(label="Air drier than", quantity=PERCENT, least=1, most=100, initial="85")


def answer(given: Given) -> Outcome:
    air = film.may_coat(**given)
    surface = given["surface_c"]
    # A coat blushes or stays soft in air that the product does not bear, long before water stands on it.
    verdict, tone = ("By dew point and humidity a coat may go on.", "good") if air else _no(air)
    return Outcome(
        outputs=[
            Output("dew_point_c", "Dew point", air.dew_point_c, TEMPERATURE),
            Output("lowest_surface_c", "The work must be at least", air.lowest_surface_c, TEMPERATURE),
            Output("margin_c", "It stands above the dew point by", surface - air.dew_point_c, DEGREES_APART),
        ],
        verdict=verdict,
        tone=tone,
        notes=[
            "The rule was written for steel; on wood it is a caution only. The product’s sheet says which "
            "air it wants, and rules."
        ],
    )


def _no(air: film.CoatingAir) -> tuple[str, str]:
    reasons = {
        "surface": "the work is too cold for its dew point: warm it, or dry the air",
        "air": "the air is too damp",
    }
    words = [reasons[objection.split()[0]] for objection in air.objections]
    return f"Do not coat now: {' and '.join(words)}.", "wait"


SUM = Sum(
    code="may-coat",
    title="May we coat now?",
    intro="Air and work side by side: where the work is colder than the air, water may stand on it.",
    source="Dew point: WMO Guide no. 8, annex 4.B (Sonntag 1990). At least 3 °C above it and under 85 % "
    "humidity: a coating article citing ISO 8502-4 and ISO 12944-7.",
    version=VERSION,
    form=MayCoatForm,
    answer=answer,
    picture=margin_gauge,
)
