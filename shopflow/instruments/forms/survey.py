"""What is typed beside the piano."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from shopflow.catalogue.models import Units
from shopflow.common.forms import LineField, NoteField, NumberField
from shopflow.people import edits

from ..models import Finding, GroupLook, Instrument, Survey
from ..selectors.report import GRADES
from ..services.survey import facts_of, known_of

KEY = r"^[A-Za-z0-9_-]{8,64}$"


class KeyField(forms.RegexField):
    """Made with the form, so that sent twice it counts once."""

    def __init__(self) -> None:
        super().__init__(KEY, widget=forms.HiddenInput, error_messages={"invalid": "Open the page again."})


class BeginForm(forms.Form):
    """When and where; the air as this shop reads it, in °C or °F."""

    occasion = forms.ChoiceField(label="When", choices=Survey.Occasion.choices, widget=forms.RadioSelect)
    place = LineField(label="Where it stands", max_length=80, required=False)
    room_c = NumberField(label="Air, °C", least=-30, most=60, required=False)
    room_rh = NumberField(label="Air, % humidity", least=0, most=100, required=False)

    def __init__(self, *args: Any, is_first: bool, units: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.in_fahrenheit = units == Units.INCH
        if self.in_fahrenheit:
            self.fields["room_c"] = NumberField(label="Air, °F", least=-20, most=140, required=False)
        occasion: Any = self.fields["occasion"]
        first = Survey.Occasion.FIRST
        occasion.choices = [choice for choice in Survey.Occasion.choices if is_first or choice[0] != first]
        self.initial.setdefault("occasion", first if is_first else Survey.Occasion.TEARDOWN)

    def clean_room_c(self) -> Decimal | None:
        typed: Decimal | None = self.cleaned_data["room_c"]
        if typed is not None and self.in_fahrenheit:
            typed = (typed - 32) / Decimal("1.8")
        return _tenth(typed)

    def clean_room_rh(self) -> Decimal | None:
        return _tenth(self.cleaned_data["room_rh"])


class FindingForm(forms.Form):
    """A finding from the library, or in own words: then it needs a name."""

    name = LineField(
        label="What it is", max_length=120, error_messages={"required": "Write in a few words what it is."}
    )
    severity = forms.TypedChoiceField(
        label="How bad",
        choices=[(grade, f"{grade} · {words}") for grade, words in GRADES.items()],
        coerce=int,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose a grade, 0 to 4."},
    )
    words = NoteField(label="What exactly, and where", max_length=1000, required=False, rows=3)
    extent = NumberField(label="How much", least=0, most=100_000, required=False)
    extent_unit = forms.ChoiceField(
        label="Of what", choices=[("", "—"), *Finding.Unit.choices], required=False
    )
    confidence = forms.ChoiceField(
        label="How sure", choices=Finding.Confidence.choices, widget=forms.RadioSelect
    )
    key = KeyField()

    def __init__(self, *args: Any, in_own_words: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not in_own_words:
            del self.fields["name"]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("extent") is not None:
            said["extent"] = _tenth(said["extent"])
            _check_extent(self, said["extent"], said.get("extent_unit", ""))
        elif "extent" not in self.errors:
            said["extent_unit"] = ""
        return said

    @property
    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in self.fields if name not in {"key", "seen"}}


class CorrectForm(FindingForm):
    """The same, with the mark of what was seen."""

    key = None  # type: ignore[assignment]
    seen = forms.CharField(max_length=40, widget=forms.HiddenInput)

    @classmethod
    def showing(cls, finding: Finding, typed: Mapping[str, str] | None = None) -> CorrectForm:
        facts = facts_of(finding)
        initial = facts | {"seen": edits.mark_of(facts)} | dict(typed or {})
        return cls(initial=initial, in_own_words=finding.kind_id is None)

    def overtaken_by(self, finding: Finding) -> CorrectForm:
        """The same words once more, knowing now what someone else saved meanwhile."""
        data: Any = self.data.copy()  # type: ignore[attr-defined]
        data["seen"] = edits.mark_of(facts_of(finding))
        return CorrectForm(data, in_own_words=finding.kind_id is None)


class LookForm(forms.Form):
    word = forms.ChoiceField(choices=GroupLook.Word.choices)
    why = LineField(label="Why not, or what could not be seen", max_length=300, required=False)


class ReadingForm(forms.Form):
    kind = forms.SlugField(max_length=30)
    place = LineField(max_length=40, required=False)
    value = NumberField(label="Value", least=-99_999, most=99_999)
    again = forms.BooleanField(required=False)
    key = KeyField()


class KnownForm(forms.Form):
    alterations = NoteField(
        label="Alterations and earlier repairs",
        max_length=2000,
        required=False,
        rows=5,
        help_text="what earlier owners and shops did to it",
    )
    fragile = NoteField(
        label="Fragile parts",
        max_length=500,
        required=False,
        help_text="shown as a warning wherever the instrument is shown",
    )
    seen = forms.CharField(max_length=40, widget=forms.HiddenInput)

    @classmethod
    def showing(cls, instrument: Instrument, typed: Mapping[str, str] | None = None) -> KnownForm:
        facts = known_of(instrument)
        return cls(initial=facts | {"seen": edits.mark_of(facts)} | dict(typed or {}))

    def overtaken_by(self, instrument: Instrument) -> KnownForm:
        data: Any = self.data.copy()  # type: ignore[attr-defined]
        data["seen"] = edits.mark_of(known_of(instrument))
        return KnownForm(data)


class FinishForm(forms.Form):
    why_not = LineField(label="Not inspected, because", max_length=300, required=False)
    begun_word = forms.ChoiceField(
        label="The groups that were begun",
        choices=[
            (GroupLook.Word.FOUND, "that was all there is"),
            (GroupLook.Word.PARTLY, "only partly seen"),
        ],
        widget=forms.RadioSelect,
        required=False,
    )
    note = NoteField(label="Anything else for the report", max_length=2000, required=False, rows=3)
    begun_why = LineField(label="If partly: what could not be seen", max_length=300, required=False)

    def __init__(self, *args: Any, untouched: bool, begun: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["why_not"].required = untouched
        self.fields["begun_word"].required = begun


def _tenth(value: Decimal | None) -> Decimal | None:
    return None if value is None else round(value, 1)


def _check_extent(form: forms.Form, extent: Decimal | None, unit: str) -> None:
    most = {Finding.Unit.OF_88: 88, Finding.Unit.OF_230: 260, Finding.Unit.PERCENT: 100}
    if not unit:
        form.add_error("extent_unit", "Say of what: pieces, mm, cm² …")
    elif unit in most and extent is not None and extent > most[Finding.Unit(unit)]:
        form.add_error("extent", f"Got {extent:f}; allowed is 0 to {most[Finding.Unit(unit)]} for this unit.")
