"""How far a panel moves from the moisture of its gluing to the air where the piano will stand."""

from __future__ import annotations

from django import forms

from shopflow.compute.wood import SWELLING, Direction, equilibrium_moisture, movement_mm, swelling
from shopflow.readings.forms.fields import MeasureField, SumForm
from shopflow.readings.measures import LENGTH, PERCENT, TEMPERATURE, Quantity, Unit, add_quantities
from shopflow.readings.parts import Given, Outcome, Output, Sum

from .shim import MOISTURE

MOVEMENT = Quantity("movement", Unit("mm"), Unit("in", 25.4), 2, 3)
add_quantities(MOVEMENT)
SPRUCES_FIRST = sorted(SWELLING, key=lambda name: (not name.startswith("spruce"), name))
DIRECTIONS = [
    ("radial", "across a quarter-sawn panel, such as a soundboard"),
    ("tangential", "across a flat-sawn board"),
]


class PanelForm(SumForm):
    width_mm = MeasureField(
        label="Width across the grain", quantity=LENGTH, least=10, most=3000, initial="1400"
    )
    species = forms.ChoiceField(
        label="Wood", choices=[(name, name) for name in SPRUCES_FIRST], initial="spruce, Sitka"
    )
    direction = forms.ChoiceField(label="Grain", choices=DIRECTIONS, initial="radial")
    from_percent = MeasureField(
        label="Moisture when it is glued", quantity=MOISTURE, least=0, most=30, initial="6"
    )
    dry_temp_c = MeasureField(label="At home, driest: air", quantity=TEMPERATURE, least=-2, most=45)
    dry_rh = MeasureField(label="and humidity then", quantity=PERCENT, least=1, most=99, initial="30")
    damp_temp_c = MeasureField(label="At home, dampest: air", quantity=TEMPERATURE, least=-2, most=45)
    damp_rh = MeasureField(label="and humidity then", quantity=PERCENT, least=1, most=99, initial="65")


def answer(given: Given) -> Outcome:
    direction: Direction = "tangential" if given["direction"] == "tangential" else "radial"
    share = swelling(given["species"], direction)
    dry, damp = (
        equilibrium_moisture(given[f"{season}_temp_c"], given[f"{season}_rh"]) for season in ("dry", "damp")
    )
    moved = [movement_mm(given["width_mm"], given["from_percent"], to, share) for to in (dry, damp)]
    return Outcome(
        outputs=[
            Output("dry_moisture", "Driest, the wood settles at", dry, MOISTURE),
            Output("dry_mm", "and moves by", moved[0], MOVEMENT),
            Output("damp_moisture", "Dampest, it settles at", damp, MOISTURE),
            Output("damp_mm", "and moves by", moved[1], MOVEMENT),
            Output("span_mm", "From driest to dampest", abs(moved[1] - moved[0]), MOVEMENT),
        ],
        notes=[
            "Less than nothing: it shrinks. A panel that is held by rim and ribs cannot move freely; what "
            "it may "
            "not move shows as crown, as pull on the glue, or as a crack.",
            "Figures are averages over species; between 6 and 14 % as the handbook does it, beyond by its "
            "other "
            "equation (from memory).",
        ],
    )


SUM = Sum(
    code="panel",
    title="Movement of the panel",
    intro="From the day it is glued to the driest and dampest weeks where the piano will stand.",
    source="Wood Handbook, FPL-GTR-190 (2010), equations 13-2 and 4-5, Table 13-5.",
    version="wood 1",
    form=PanelForm,
    answer=answer,
    button="Work out its movement",
    usual=lambda task, units: (
        {"dry_temp_c": "20", "damp_temp_c": "20"}
        if units == "metric"
        else {"dry_temp_c": "68", "damp_temp_c": "68", "width_mm": "55"}
    ),
)
