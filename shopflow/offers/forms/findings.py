"""Something that came to light at a task and stands in no survey yet."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from shopflow.catalogue.models import ComponentGroup, FindingKind
from shopflow.common.forms import LineField, NoteField
from shopflow.instruments.models import Instrument

SEVERITIES = (
    (1, "1, a matter of looks, or to be watched"),
    (2, "2, affects playing or looks, and will grow"),
    (3, "3, does not do its job, or harms other parts"),
    (4, "4, not safe, or the structure itself"),
)


class KindField(forms.ModelChoiceField):
    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.group}: {obj.name}"


class CameToLightForm(forms.Form):
    """From the library, which knows what mends it, or in own words with the part that it belongs to."""

    kind = KindField(
        label="What it is",
        queryset=FindingKind.objects.none(),
        required=False,
        empty_label="in own words, below",
        help_text="what is in the library brings its remedies and prices along",
    )
    name = LineField(label="In own words", max_length=120, required=False)
    group = forms.ModelChoiceField(
        label="Part of the instrument", queryset=ComponentGroup.objects.none(), required=False
    )
    words = NoteField(label="What exactly, and where", max_length=1000, required=False, rows=2)
    severity = forms.TypedChoiceField(
        label="How bad", choices=SEVERITIES, coerce=int, initial=2, widget=forms.RadioSelect
    )
    key = forms.RegexField(r"\A[A-Za-z0-9_\-]{8,64}\Z", widget=forms.HiddenInput)

    def __init__(self, *args: Any, instrument: Instrument, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kinds = FindingKind.objects.in_use().filter(only_for__in=["", instrument.kind])
        self.fields["kind"].queryset = kinds.select_related("group")  # type: ignore[attr-defined]
        self.fields["group"].queryset = ComponentGroup.objects.all()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if said.get("kind") is None and "kind" not in self.errors:
            if not said.get("name"):
                raise ValidationError({"name": "Choose one of the library, or say it in own words."})
            if not said.get("group"):
                raise ValidationError({"group": "Say which part of the instrument it belongs to."})
        return said

    def facts(self) -> dict[str, Any]:
        """As the survey takes it in."""
        said = dict(self.cleaned_data)
        if said["kind"] is not None:
            said["group"], said["name"] = said["kind"].group, ""
        return said
