"""One lift by hand: the recommended limit at its start and at its end, the index, and how many people."""

from __future__ import annotations

from typing import Any

from django import forms

from shopflow.catalogue.models import Units
from shopflow.compute import lifting
from shopflow.readings.forms.fields import MeasureField, SumForm
from shopflow.readings.measures import DEGREES, NUMBER, REACH, WEIGHT
from shopflow.readings.parts import Given, Outcome, Output, Sum
from shopflow.readings.pictures import lift_drawing

VERSION = "niosh 1"
NO_HANDS = "No number of hands: use a hoist, board and skid, or trained movers."
GRIPS = [("good", "good: handles"), ("fair", "fair: edges to hold"), ("poor", "poor: nothing to hold")]
LASTS = [("1", "at most an hour"), ("2", "one to two hours"), ("8", "two to eight hours")]


class LiftForm(SumForm):
    load_kg = MeasureField(label="Weight", quantity=WEIGHT, least=0.1, most=10_000)
    horizontal_mm = MeasureField(
        label="Hands before the ankles, start", quantity=REACH, least=0, most=2_000, initial=250
    )
    vertical_mm = MeasureField(
        label="Hands above the floor, start", quantity=REACH, least=0, most=3_000, initial=750
    )
    end_horizontal_mm = MeasureField(
        label="Hands before the ankles, end", quantity=REACH, least=0, most=2_000, required=False
    )
    end_vertical_mm = MeasureField(
        label="Hands above the floor, end", quantity=REACH, least=0, most=3_000, initial=1000
    )
    turn_deg = MeasureField(label="Turn of the body", quantity=DEGREES, least=0, most=180, required=False)
    lifts_per_min = MeasureField(
        label="Lifts a minute",
        quantity=NUMBER,
        least=0,
        most=60,
        required=False,
        help_text="0.2 or less: once;",
    )
    hours = forms.ChoiceField(label="It goes on for", choices=LASTS, initial="1")
    grip = forms.ChoiceField(label="Grip", choices=GRIPS, initial="fair")

    @property
    def given(self) -> dict[str, Any]:
        """The manual prints a metric and a US form; the shop's units choose."""
        return super().given | {"us": self.units == Units.INCH}


def answer(given: Given) -> Outcome:
    start, end = _limits(given)
    limit = min(start, end)
    load = given["load_kg"]
    people = lifting.people_for(load, limit)
    outputs = [
        Output("start_kg", "Recommended limit, start", start, WEIGHT),
        Output("end_kg", "Recommended limit, end", end, WEIGHT),
    ]
    index = lifting.lifting_index(load, limit) if limit >= 0.001 else None
    if index is not None:
        outputs.append(Output("index", "Lifting index", index, NUMBER))
    outputs.append(Output("people", "People at least", f"{people}" if people else "not by hand"))
    return Outcome(outputs, _verdict(index, people), _tone(index, people), NOTES)


NOTES = [
    "For two-handed lifts on a sound floor with a load that does not shift; not for carrying, pushing, "
    "narrow places or one hand. Two people are reckoned to lift two thirds of the sum of their limits, three "
    "half of it (from memory: UK Health and Safety Executive, L23).",
    "Plates, cabinets and whole instruments want a hoist, board, skid and straps, and people trained for "
    "them. Local codes and licensed practice rule.",
]


def _limits(given: Given) -> tuple[float, float]:
    form = lifting.US if given.get("us") else lifting.METRIC
    low, high = given["vertical_mm"], given["end_vertical_mm"]
    common: dict[str, Any] = {
        "turn_deg": given.get("turn_deg", 0.0),
        "lifts_per_min": given.get("lifts_per_min", 0.2),
        "hours": float(given["hours"]),
        "grip": given["grip"],
        "origin_vertical_mm": low,
        "form": form,
    }
    reach = given["horizontal_mm"]
    travel = abs(high - low)
    start = lifting.recommended_limit(reach, low, travel, **common)
    return start, lifting.recommended_limit(given.get("end_horizontal_mm", reach), high, travel, **common)


def _verdict(index: float | None, people: int | None) -> str:
    if index is None:
        return "It should not be lifted by hand this way at all."
    if index <= 1:
        return "Within the limit that nearly all healthy people can lift."
    if people is None:
        return NO_HANDS
    return f"Too much for one: {people} people at least, or another way."


def _tone(index: float | None, people: int | None) -> str:
    if index is None or people is None:
        return "stop"
    return "good" if index <= 1 else "wait"


SUM = Sum(
    code="lift",
    title="One lift",
    intro="How much may be lifted this way, and by how many.",
    source="Revised NIOSH lifting equation, applications manual DHHS (NIOSH) 94-110 (1994, revised 9/2021).",
    version=VERSION,
    form=LiftForm,
    answer=answer,
    picture=lift_drawing,
)
