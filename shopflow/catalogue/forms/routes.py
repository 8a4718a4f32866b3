from __future__ import annotations

from typing import Any

from django import forms

from shopflow.catalogue.models import Operation, Route
from shopflow.catalogue.services.routes import Weeks
from shopflow.common.text import TextField

from .base import LineField, SetUpForm, limit

WEEKS = ["weeks_low", "weeks_likely", "weeks_high"]


class RouteForm(SetUpForm):
    class Meta:
        model = Route
        fields = ["name", "kind", "note", *WEEKS]
        field_classes = {"name": LineField, "note": TextField}
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in WEEKS:
            limit(self.fields[name], least=1, most=500)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        weeks = [cleaned.get(name) for name in WEEKS]
        if None in weeks and any(week is not None for week in weeks) and not self.errors:
            self.add_error("weeks_low", "Give all three: low, likely and high; or none.")
        return cleaned

    @property
    def weeks(self) -> Weeks:
        low, likely, high = (self.cleaned_data[name] for name in WEEKS)
        return None if low is None else (low, likely, high)


class StepForm(forms.Form):
    """Which operation joins a route."""

    operation = forms.ModelChoiceField(Operation.objects.in_use(), label="Add an operation at the end")


class PlacesForm(forms.Form):
    """One place up or one place down."""

    places = forms.TypedChoiceField(choices=[("-1", "up"), ("1", "down")], coerce=int)
