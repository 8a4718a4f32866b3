"""Forms of what the shop charges, of its terms, and of what counts when work is chosen for the money."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from shopflow.catalogue.models import MaterialBand, Terms
from shopflow.catalogue.services.money import TERMS, WEIGHTS, unless_rising
from shopflow.common.text import TextField

from .base import LineField, SetUpForm, limit

MOST_MONEY = 99_999
SPANS = {
    "margin_percent": (0, 300),
    "round_to": (1, 1_000),
    "deposit_percent": (0, 100),
    "holds_days": (1, 365),
    "surprise_percent": (0, 100),
    "decide_days": (1, 90),
}


class TermsForm(SetUpForm):
    class Meta:
        model = Terms
        fields = TERMS
        field_classes = {"currency": LineField, "letter_foot": LineField} | dict.fromkeys(
            ["warranty", "care"], TextField
        )
        help_texts = {
            "margin_percent": "a price is what the work costs the shop and this on top",
            "round_to": "of a whole job; each operation is reckoned to the penny",
            "surprise": "told in each change order; those that are begun keep the terms of their day",
        }
        widgets = {"warranty": forms.Textarea(attrs={"rows": 5}), "care": forms.Textarea(attrs={"rows": 7})}

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for name, (least, most) in SPANS.items():
            limit(self.fields[name], least=least, most=most)


class WeightsForm(SetUpForm):
    class Meta:
        model = Terms
        fields = WEIGHTS

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for name in WEIGHTS:
            limit(self.fields[name], least=0, most=10)


class BandForm(SetUpForm):
    class Meta:
        model = MaterialBand
        fields = ["low", "likely", "high", "basis"]
        field_classes = {"basis": LineField}
        labels = {"basis": "Where the figures come from"}

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        for name in ("low", "likely", "high"):
            limit(self.fields[name], least=0, most=MOST_MONEY)

    def clean(self) -> dict[str, Any]:
        """In words, before the database says it in its own."""
        cleaned = super().clean() or self.cleaned_data
        if not self.errors and not cleaned["low"] <= cleaned["likely"] <= cleaned["high"]:
            self.add_error("low", unless_rising(self.figures))
        return cleaned

    @property
    def figures(self) -> tuple[Decimal, Decimal, Decimal]:
        low, likely, high = (self.cleaned_data[step] for step in ("low", "likely", "high"))
        return low, likely, high
