"""May we coat now: how far the work stands above the dew point, and how damp the air is."""

from __future__ import annotations

from typing import Any, ClassVar, cast

from django import forms
from django.utils import timezone

from shopflow.compute import film
from shopflow.readings.forms.fields import MeasureField, SumForm
from shopflow.readings.measures import DEGREES_APART, PERCENT, TEMPERATURE, Measure, tidy
from shopflow.readings.models import RoomAir
from shopflow.readings.parts import Given, Outcome, Output, Sum
from shopflow.readings.pictures import margin_gauge
from shopflow.readings.selectors.air import latest_air

VERSION = "film 1"
TYPED = "typed"


class MayCoatForm(SumForm):
    need_words: ClassVar[dict[str, str]] = {
        "air": "",
        "temp_c": "needed, unless a room is chosen",
        "rh": "needed, unless a room is chosen",
    }
    air = forms.ChoiceField(label="Air of the room", widget=forms.RadioSelect, required=False, initial=TYPED)
    temp_c = MeasureField(label="Air", quantity=TEMPERATURE, least=-45, most=60, required=False)
    rh = MeasureField(label="Relative humidity", quantity=PERCENT, least=1, most=100, required=False)
    surface_c = MeasureField(label="The work itself", quantity=TEMPERATURE, least=-45, most=100)
    margin_c = MeasureField(
        label="Above the dew point at least", quantity=DEGREES_APART, least=0, most=30, initial=3
    )
    highest_rh = MeasureField(label="Air drier than", quantity=PERCENT, least=1, most=100, initial=85)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["temp_c"].widget.attrs["placeholder"] = self.fields["rh"].widget.attrs["placeholder"] = ""
        rows = latest_air()
        sent = self.data.get("air", "") if self.is_bound else ""
        if sent.isdecimal() and len(sent) < 19 and int(sent) not in {row.pk for row in rows}:
            # A tap kept on its tablet still means the air that it named.
            rows += RoomAir.objects.filter(pk=int(sent))
        self.rows = {str(row.pk): row for row in rows}
        choices = [(pk, _same_air(row, self.units)) for pk, row in self.rows.items()]
        cast(forms.ChoiceField, self.fields["air"]).choices = [*choices, (TYPED, "as typed here")]
        if not rows:
            self.fields["air"].widget = forms.HiddenInput()

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        row = self.rows.get(said.get("air", ""))
        if row:
            unit = TEMPERATURE.unit(self.units)
            said["temp_c"] = Measure(tidy(unit.shown(row.temp_c), 1), unit.name, row.temp_c)
            said["rh"] = Measure(f"{row.rh_percent:g}", "%", row.rh_percent)
            self.errors.pop("temp_c", None)
            self.errors.pop("rh", None)
        else:
            for name in ("temp_c", "rh"):
                if name not in self.errors and said.get(name) is None:
                    self.add_error(name, "Type it, or choose the air of a room.")
        return said

    @property
    def given(self) -> dict[str, Any]:
        return {name: value for name, value in super().given.items() if name != "air"}


def _same_air(row: RoomAir, units: str) -> str:
    at = timezone.localtime(row.at)
    air = f"{TEMPERATURE.written(row.temp_c, units)}, {row.rh_percent:g} %"
    return f"same air as in {row.room} at {at:%H:%M}: {air}"


def answer(given: Given) -> Outcome:
    air = film.may_coat(**given)
    verdict, tone = ("By dew point and humidity a coat may go on.", "good") if air else (_no(air), "wait")
    above = given["surface_c"] - air.dew_point_c
    return Outcome(
        outputs=[
            Output("dew_point_c", "Dew point", air.dew_point_c, TEMPERATURE),
            Output("lowest_surface_c", "The work must be at least", air.lowest_surface_c, TEMPERATURE),
            Output("above_c", "It stands above the dew point by", above, DEGREES_APART),
        ],
        verdict=verdict,
        tone=tone,
        notes=[
            "The rule was written for steel; on wood it is a caution only. The product’s sheet says which "
            "air it wants, and rules."
        ],
    )


def _no(air: film.CoatingAir) -> str:
    reasons = {
        "surface": "the work is too near its dew point: warm it, or dry the air",
        "air": "the air is too damp",
    }
    words = [reasons[objection.split()[0]] for objection in air.objections]
    return f"Do not coat now: {' and '.join(words)}."


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
