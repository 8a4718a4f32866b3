"""Scarce things, sizes, parts on order, holding back."""

from __future__ import annotations

from decimal import Decimal
from itertools import groupby
from typing import Any

from django import forms

from shopflow.catalogue.forms.base import SetUpForm, limit
from shopflow.catalogue.models import Kind, Operation
from shopflow.common.forms import DayField, LineField
from shopflow.instruments.models import Instrument
from shopflow.planning.models import KindSize, PartOnOrder, ScarceThing
from shopflow.planning.services.things import LEAST_SIZE, MOST, MOST_SIZE
from shopflow.workshop.models import Task


class ScarceThingForm(SetUpForm):
    name = LineField(label="Name", max_length=60, help_text="such as spray booth, plate hoist, veneer press")

    class Meta:
        model = ScarceThing
        fields = ["name", "count", "operations"]
        labels = {
            "count": "How many there are",
            "operations": "Operations that need one",
        }
        help_texts = {
            "operations": "while hands are on them; the plan never uses more at once than there are"
        }
        widgets = {"operations": forms.CheckboxSelectMultiple}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        limit(self.fields["count"], least=1, most=MOST)
        in_use = Operation.objects.in_use().select_related("department")
        self.fields["operations"].queryset = in_use  # type: ignore[attr-defined]
        self._benches = [one.department.name for one in in_use]

    @property
    def by_bench(self) -> list[tuple[str, list[Any], bool]]:
        """The ticks for the operations, bench by bench, and whether any of them is set."""
        pairs = zip(self._benches, self["operations"].subwidgets, strict=True)
        grouped = groupby(pairs, key=lambda pair: pair[0])
        benches = [(name, [tick for _, tick in some]) for name, some in grouped]
        return [(name, ticks, any(tick.data["selected"] for tick in ticks)) for name, ticks in benches]


class SizesForm(forms.Form):
    """One number for each kind of instrument."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kept = dict(KindSize.objects.values_list("kind", "size"))
        for kind, name in Kind.choices:
            self.fields[kind] = forms.DecimalField(
                label=f"One finished {name} counts",
                initial=kept.get(kind, Decimal(1)),
                max_digits=4,
                decimal_places=2,
                min_value=LEAST_SIZE,
                max_value=MOST_SIZE,
                help_text=f"{LEAST_SIZE} to {MOST_SIZE}",
            )


class FindForm(forms.Form):
    """Which instrument, by its number."""

    number = LineField(label="Instrument number", max_length=12)

    def clean_number(self) -> Instrument:
        typed = self.cleaned_data["number"]
        found = Instrument.objects.in_the_house().filter(number__iexact=typed).first()
        if found is None:
            raise forms.ValidationError(f"No instrument {typed} stands in the house.")
        return found


class PartForm(SetUpForm):
    """Something on order; bound to one instrument's open tasks, or to the task it has."""

    what = LineField(label="What is on order", max_length=120)
    ordered_on = DayField(label="Ordered on")
    expected_on = DayField(label="Expected on")

    class Meta:
        model = PartOnOrder
        fields = ["what", "ordered_on", "expected_on"]


class NewPartForm(forms.Form):
    task = forms.ModelChoiceField(
        queryset=Task.objects.none(), label="Task that needs it", empty_label="choose"
    )
    what = LineField(label="What is on order", max_length=120)
    ordered_on = DayField(label="Ordered on")
    expected_on = DayField(label="Expected on")

    def __init__(self, *args: Any, instrument: Instrument, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        tasks = Task.objects.open().filter(instrument=instrument).select_related("instrument")
        self.fields["task"].queryset = tasks  # type: ignore[attr-defined]


class HoldForm(FindForm):
    until = DayField(label="Nothing new before")
    reason = LineField(label="Why", max_length=200, required=False)
