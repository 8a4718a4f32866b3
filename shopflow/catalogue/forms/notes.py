"""Forms of cautions and rests."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from shopflow.catalogue.models import Caution, Rest
from shopflow.catalogue.services.cautions import DEFERS, own_words
from shopflow.common.text import TextField

from .base import LineField, SetUpForm, limit


class CautionForm(SetUpForm):
    words = TextField(
        label="Caution",
        max_length=1200 - len(DEFERS) - 2,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="in the shop’s own words; the line below always follows them",
    )

    class Meta:
        model = Caution
        fields = ["title", "words", "figures"]
        labels = {"figures": "Figures, and where they come from"}
        field_classes = {"title": LineField, "figures": TextField}
        widgets = {"figures": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, instance: Caution | None = None, **kwargs: Any) -> None:
        initial = {"words": own_words(instance)} if instance else {}
        super().__init__(*args, instance=instance, initial=initial, **kwargs)


class RestForm(SetUpForm):
    class Meta:
        model = Rest
        fields = ["name", "hours_low", "hours_likely", "hours_high", "basis"]
        field_classes = {"name": LineField, "basis": LineField}
        labels = {
            "hours_low": "Hours by the calendar, low",
            "hours_likely": "Hours by the calendar, likely",
            "hours_high": "Hours by the calendar, high",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("hours_low", "hours_likely", "hours_high"):
            limit(self.fields[name], least=Decimal("0.1"), most=20_000)

    @property
    def hours(self) -> tuple[Decimal, Decimal, Decimal]:
        low, likely, high = (self.cleaned_data[f"hours_{step}"] for step in ("low", "likely", "high"))
        return low, likely, high
