"""What is said when a place on a photo is numbered: a tap on the picture, or two figures, and a few words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError

from shopflow.common.forms import LineField, NumberField, WholeNumberField
from shopflow.instruments.forms.crates import InForm, OutForm
from shopflow.instruments.models import Crate, CrateLine, Instrument
from shopflow.instruments.models.crates import MOST_PARTS
from shopflow.instruments.services.crates import Part

from ..models import MOST_MARKS, Photo, PhotoMark
from ..services import Spot

# How wide the picture is drawn where no script can fit it to the screen: a tap there comes in pixels.
SHOWN_WIDE = 960
NOT_TAPPED = "Tap on the picture, or write how far from its left and its top edge."


def shown_high(photo: Photo) -> int:
    return max(1, round(SHOWN_WIDE * photo.height / photo.width)) if photo.width else SHOWN_WIDE


class LineChoice(forms.ModelChoiceField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(CrateLine.objects.none(), required=False, **kwargs)

    def label_from_instance(self, obj: Any) -> str:
        return f"{obj}, crate {obj.crate.number}"


class CrateChoice(forms.ModelChoiceField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(Crate.objects.none(), required=False, **kwargs)

    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.number}, {obj.set_name}"


class PutForm(forms.Form):
    """A new mark: what it is, and where."""

    kind = forms.ChoiceField(label="Mark", choices=PhotoMark.Kind.choices, widget=forms.RadioSelect)
    words = LineField(label="In words", max_length=120, required=False)
    length_mm = NumberField(label="Length in mm", least=0, most=9999, required=False)
    line = LineChoice(label="Which part", empty_label="a new one, named here")
    count = WholeNumberField(label="How many of it", least=1, most=MOST_PARTS, required=False)
    crate = CrateChoice(label="Lies in crate", empty_label="a new crate, hardware")
    x = NumberField(label="From the left, %", least=0, most=100, required=False)
    y = NumberField(label="From the top, %", least=0, most=100, required=False)

    def __init__(self, *args: Any, photo: Photo, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.photo = photo
        lines, crates = parts_to_mark(photo.instrument), photo.instrument.crates.in_use()
        cast("forms.ModelChoiceField[CrateLine]", self.fields["line"]).queryset = lines
        cast("forms.ModelChoiceField[Crate]", self.fields["crate"]).queryset = crates

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("kind") == PhotoMark.Kind.PART and not said.get("line"):
            self._check_new_part(said)
        spot = tapped_at(self.data, self.photo) or self._written(said)
        if spot is None and not {"x", "y"} & self.errors.keys():
            raise ValidationError(NOT_TAPPED)
        return said | {"at": spot}

    def _check_new_part(self, said: dict[str, Any]) -> None:
        name = said.get("words", "")
        if not name and "words" not in self.errors:
            self.add_error("words", "Say which part lies there, or choose it from its crate.")
        elif len(name) > 60:
            self.add_error("words", f"Got {len(name)} letters; allowed for the name of a part are 60.")

    def _written(self, said: dict[str, Any]) -> Spot | None:
        x, y = said.get("x"), said.get("y")
        return Spot(float(x) / 100, float(y) / 100) if x is not None and y is not None else None

    @property
    def part(self) -> Part:
        return Part(self.cleaned_data["words"], self.cleaned_data["count"] or 1)


def tapped_at(data: Mapping[str, Any], photo: Photo) -> Spot | None:
    """Where the picture was tapped without a script; a key on it comes as 0, 0 and is no tap."""
    x, y = str(data.get("at.x", "")), str(data.get("at.y", ""))
    if not (x.isdecimal() and y.isdecimal() and len(x) < 6 and len(y) < 6) or not (int(x) or int(y)):
        return None
    return Spot(min(1.0, int(x) / SHOWN_WIDE), min(1.0, int(y) / shown_high(photo)))


def parts_to_mark(instrument: Instrument) -> Any:
    """What lies in its crates and is marked on no photo yet."""
    marked = PhotoMark.objects.standing().filter(photo__instrument=instrument).exclude(line=None)
    lines = CrateLine.objects.filter(crate__instrument=instrument, count__gt=0).select_related("crate")
    return lines.exclude(pk__in=marked.values("line"))


class MarkForm(forms.Form):
    """A mark that is there: its number, its words, its length."""

    number = WholeNumberField(label="Number", least=1, most=MOST_MARKS)
    words = LineField(label="In words", max_length=120, required=False)
    length_mm = NumberField(label="Length in mm", least=0, most=9999, required=False)


class AsideForm(forms.Form):
    reason = LineField(label="Why it is put aside", max_length=300)


class PartsOutForm(OutForm):
    """Parts of several crates go out together; each crate looks after its own numbers."""

    seen = WholeNumberField(least=0, most=10**11, widget=forms.HiddenInput, required=False)


class PartsInForm(InForm):
    seen = WholeNumberField(least=0, most=10**11, widget=forms.HiddenInput, required=False)
