"""The area that hangs in the tank, part by part."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError

from shopflow.common.forms import NoteField
from shopflow.readings.forms.fields import SumForm
from shopflow.readings.forms.sizes import area_m2
from shopflow.readings.measures import LENGTH, SMALL_AREA, NotAMeasure
from shopflow.readings.parts import Given, Outcome, Output, Sum

VERSION = "area 1"
MOST_PARTS = 60
CM2_PER_M2 = 10_000


class PlatingAreaForm(SumForm):
    parts = NoteField(
        max_length=2000,
        rows=5,
        help_text="name: length × width × faces, as “pedal: 230 x 60 x 2”; edges count on thick parts",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["parts"].label = f"Parts, one a line, in {LENGTH.unit(self.units).name}"

    def clean_parts(self) -> str:
        self.areas: dict[str, float] = {}
        lines = [line.strip() for line in self.cleaned_data["parts"].splitlines() if line.strip()]
        if len(lines) > MOST_PARTS:
            raise ValidationError(f"{len(lines)} parts; allowed are {MOST_PARTS} on one rack.")
        for number, line in enumerate(lines, start=1):
            name, _, size = line.rpartition(":")
            name = name.strip() or f"part {number}"
            try:
                area = area_m2(size, self.units) * CM2_PER_M2
            except NotAMeasure as why:
                raise ValidationError(f"Line {number}: {why}") from why
            self.areas[name] = self.areas.get(name, 0) + area
        return self.cleaned_data["parts"]

    @property
    def given(self) -> dict[str, Any]:
        return {"areas_cm2": self.areas, "units": self.units}


def answer(given: Given) -> Outcome:
    areas: dict[str, float] = given["areas_cm2"]
    unit = SMALL_AREA.unit(given["units"])
    return Outcome(
        outputs=[Output("area_cm2", "In the tank", sum(areas.values()), SMALL_AREA)],
        heads=["Part", unit.name],
        rows=[[name, f"{unit.shown(area):,.1f}"] for name, area in areas.items()],
    )


SUM = Sum(
    code="plating-area",
    title="Area in the tank",
    intro="Every face that is wetted counts, edges too.",
    source="Length × width × faces.",
    version=VERSION,
    form=PlatingAreaForm,
    answer=answer,
)
