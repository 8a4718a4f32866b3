"""How long parts hang in the tank for a thickness, and how thick it is after so many minutes."""

from __future__ import annotations

from django import forms

from shopflow.compute import plating
from shopflow.readings.forms.fields import MeasureField, SumForm
from shopflow.readings.measures import (
    CURRENT,
    CURRENT_DENSITY,
    DEPOSIT,
    MINUTES,
    PERCENT,
    SMALL_AREA,
)
from shopflow.readings.parts import Given, Outcome, Output, Sum
from shopflow.readings.pictures import growth_line

VERSION = "plating 1"


class PlatingTimeForm(SumForm):
    deposit = forms.ChoiceField(label="Metal", choices=[(name, name) for name in plating.DEPOSITS])
    area_cm2 = MeasureField(
        label="Area in the tank", quantity=SMALL_AREA, least=0.01, most=1_000_000, help_text="all faces:"
    )
    current_a = MeasureField(label="Current", quantity=CURRENT, least=0.001, most=100_000)
    efficiency_percent = MeasureField(
        label="Efficiency of the bath", quantity=PERCENT, least=0.1, most=100, help_text="from its sheet:"
    )
    thickness_um = MeasureField(label="Thickness wanted", quantity=DEPOSIT, least=0.01, most=10_000)
    minutes = MeasureField(
        label="In the tank so far", quantity=MINUTES, least=0, most=100_000, required=False
    )


def answer(given: Given) -> Outcome:
    metal, efficiency = given["deposit"], given["efficiency_percent"]
    density = plating.current_a_dm2(given["current_a"], given["area_cm2"])
    needed = plating.time_for(metal, given["thickness_um"], density, efficiency)
    hung = given.get("minutes", 0.0)
    grown = plating.thickness_um(metal, density, hung, efficiency)
    outputs = [
        Output("density_a_dm2", "Current per area", density, CURRENT_DENSITY),
        Output("needed_min", "In the tank for it", needed, MINUTES),
        Output("grown_um", "Grown so far, on average", grown, DEPOSIT),
    ]
    return Outcome(
        outputs,
        _verdict(needed, hung),
        "good" if hung >= needed else "",
        ["An average: edges grow more, hollows less. Which current the bath bears, its sheet says."],
    )


def _verdict(needed: float, hung: float) -> str:
    left = needed - hung
    return f"{left:.0f} min more." if left > 0 else "By current and time the thickness is reached."


SUM = Sum(
    code="plating-time",
    title="Thickness and time",
    intro="What current, area and time lay down, by Faraday’s law.",
    source="Faraday’s law with the electrochemical equivalents of a plating supplier’s table; "
    "Faraday constant: CODATA.",
    version=VERSION,
    form=PlatingTimeForm,
    answer=answer,
    picture=growth_line,
)
