"""The forms of a sheet: one reading, a line to strike, the cure clock, the air of a room."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast

from django import forms

from shopflow.catalogue.models import ReadingKind, Units
from shopflow.common.forms import LineField
from shopflow.readings.measures import (
    HOURS,
    LONGEST,
    PERCENT,
    TEMPERATURE,
    NotAMeasure,
    quantity_of,
    read_measure,
)
from shopflow.readings.models import Phase
from shopflow.readings.services.cures import LONGEST_HOURS

from .fields import MeasureField, SumForm


class ReadingForm(forms.Form):
    """Which value, when in the work, where, and what was read."""

    kind = forms.ChoiceField(label="What was read", widget=forms.RadioSelect)
    phase = forms.ChoiceField(
        label="When", choices=Phase.choices, initial=Phase.DURING, widget=forms.RadioSelect
    )
    place = LineField(label="Where", max_length=40, required=False)
    typed = LineField(
        label="Read",
        max_length=LONGEST,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", "class": "short"}),
    )
    yes = forms.BooleanField(required=False, label="Measured again: keep it as it is")

    def __init__(
        self, *args: Any, kinds: Sequence[ReadingKind], units: str = Units.METRIC, **kwargs: Any
    ) -> None:
        kwargs.setdefault("auto_id", "reading_%s")
        super().__init__(*args, **kwargs)
        self.kinds, self.units = {kind.code: kind for kind in kinds}, units
        cast(forms.ChoiceField, self.fields["kind"]).choices = [(k.code, _named(k, units)) for k in kinds]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or self.cleaned_data
        kind = self.kinds.get(said.get("kind", ""))
        if kind and "typed" in said:
            try:
                said["measure"] = read_measure(said["typed"], quantity_of(kind), self.units)
            except NotAMeasure as why:
                self.add_error("typed", str(why))
        return said | {"reading_kind": kind}


def _named(kind: ReadingKind, units: str) -> str:
    unit = quantity_of(kind).unit(units).name
    return f"{kind.name}, {unit}" if unit else kind.name


class StrikeForm(forms.Form):
    reason = LineField(label="Why", max_length=200)


class CureForm(SumForm):
    """The hours of the product's sheet, and where they come from."""

    may_keep = False

    hours = MeasureField(label="It has to rest at least", quantity=HOURS, least=0, most=LONGEST_HOURS)
    basis = LineField(label="By which sheet or rule", max_length=200)
    reason = LineField(
        label="Why shorter", max_length=300, required=False, help_text="only a manager may cut a rest short"
    )


class AirForm(SumForm):
    """A room's air, quickly."""

    may_keep = False

    room = LineField(label="Room", max_length=40)
    temp_c = MeasureField(label="Temperature", quantity=TEMPERATURE, least=-20, most=60)
    rh_percent = MeasureField(label="Relative humidity", quantity=PERCENT, least=1, most=100)
