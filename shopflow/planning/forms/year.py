from __future__ import annotations

from typing import Any

from django import forms

from shopflow.catalogue.forms.base import LineField, SetUpForm
from shopflow.planning.models import AnnualTarget


def _date(**kwargs: Any) -> forms.DateField:
    return forms.DateField(widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}), **kwargs)


class TargetForm(SetUpForm):
    class Meta:
        model = AnnualTarget
        fields = ["instruments"]
        labels = {"instruments": "Instruments to finish in the year"}


class ClosedDaysForm(forms.Form):
    first = _date(label="Closed on")
    last = _date(
        label="to, if it is more than a day",
        required=False,
        help_text="weekdays on which nobody works are left out",
    )
    name = LineField(label="What for", max_length=60, required=False)
