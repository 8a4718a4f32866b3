"""Leave, a hand lent, extra hours."""

from __future__ import annotations

from typing import Any

from django import forms

from shopflow.catalogue.models import Department
from shopflow.common.forms import DayField, LineField
from shopflow.people.models import Person
from shopflow.planning.services.crew import LEAST_MORE, MOST_MORE


class _SpellForm(forms.Form):
    """A person and a run of days."""

    person = forms.ModelChoiceField(queryset=Person.objects.none(), label="Who", empty_label="choose")
    first = DayField(label="From")
    last = DayField(label="to", required=False, help_text="empty: that one day")
    note = LineField(label="Note", max_length=120, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = Person.objects.working().exclude(home=None)  # type: ignore[attr-defined]


class LeaveForm(_SpellForm):
    prefix = "leave"


class LoanForm(_SpellForm):
    prefix = "loan"
    department = forms.ModelChoiceField(
        queryset=Department.objects.in_use(), label="Lends a hand in", empty_label="choose"
    )
    field_order = ("person", "department", "first", "last", "note")


class MoreForm(_SpellForm):
    prefix = "more"
    hours_a_day = forms.DecimalField(
        label="Hours a day more",
        min_value=LEAST_MORE,
        max_value=MOST_MORE,
        decimal_places=1,
        help_text=f"{LEAST_MORE} to {MOST_MORE}",
        widget=forms.NumberInput(attrs={"step": "0.5"}),
        error_messages={
            "invalid": f"That is no number of hours; allowed is {LEAST_MORE} to {MOST_MORE}.",
            "min_value": f"Too few; allowed is {LEAST_MORE} to {MOST_MORE}.",
            "max_value": f"Too many; allowed is {LEAST_MORE} to {MOST_MORE}.",
        },
    )
    field_order = ("person", "hours_a_day", "first", "last", "note")
