"""What the office types when a finding is left as found, or is no longer left."""

from __future__ import annotations

from typing import Any

from django import forms

from shopflow.common.forms import DayField, LineField, NoteField
from shopflow.instruments.models import Finding

from .money import MoneyField


class LeaveForm(forms.Form):
    """Left as found by the shop's decision, or by a word of the customer that came another way."""

    reason = forms.ChoiceField(
        label="Why it is left", choices=Finding.Reason.choices, widget=forms.RadioSelect
    )
    decided_by = LineField(
        label="Who decided", max_length=80, required=False, help_text="empty: you, for the shop"
    )
    consequence = NoteField(label="What to expect", max_length=400, rows=2)
    can_wait = forms.BooleanField(label="It can be done later", required=False, initial=True)
    price_later = MoneyField(label="What it will cost then", required=False)

    def facts(self) -> dict[str, Any]:
        return dict(self.cleaned_data)


class UnsafeForm(forms.Form):
    """Why something unsafe stays, and what the customer put in writing."""

    reason = NoteField(
        label="Why it stays as it is",
        max_length=400,
        rows=2,
        help_text="your name stands beside it, in the report too",
    )
    word_by = LineField(label="Who of the customer’s side wrote", max_length=80)
    word_on = DayField(label="Written on")
    word = NoteField(
        label="What they wrote, and how",
        max_length=400,
        rows=2,
        help_text="for example: by letter, “I know about the prop and will not open the lid”",
    )


class EndForm(forms.Form):
    why = LineField(label="Why it is no longer left", max_length=200)
    is_mended = forms.BooleanField(label="It is mended", required=False)
