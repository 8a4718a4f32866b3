"""What the office chooses when it lays out an instrument's work."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from shopflow.catalogue.models import Operation, Route
from shopflow.common.forms import LineField, NoteField
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.people.models import Person
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.laid_out import newest_task, offered_operations
from shopflow.workshop.services import layout
from shopflow.workshop.services.order.places import WORDS as PARTS

from .fields import BIGGEST_ID, IdField, ReasonField


class OperationField(forms.ModelChoiceField):
    """Operations under their departments."""

    def offer(self, operations: list[Operation]) -> None:
        self.queryset = Operation.objects.filter(pk__in=[operation.pk for operation in operations])
        groups = groupby(operations, key=lambda operation: operation.department.name)
        self.choices = [
            ("", "choose one"),
            *((name, [(one.pk, one.name) for one in together]) for name, together in groups),
        ]


class RouteForm(forms.Form):
    route = forms.ModelChoiceField(queryset=Route.objects.none(), empty_label="choose a route")

    def __init__(self, *args: Any, instrument: Instrument, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["route"].queryset = Route.objects.in_use().filter(kind=instrument.kind)  # type: ignore[attr-defined]


class AddTaskForm(forms.Form):
    """One more operation. What it brings along or makes needless is shown before anything is done."""

    operation = OperationField(queryset=Operation.objects.none())
    name = LineField(
        label="Name on the bench", max_length=80, required=False, help_text="empty: the operation's own"
    )
    note = NoteField(max_length=1000, required=False, rows=2)
    newest = forms.IntegerField(required=False, min_value=0, max_value=BIGGEST_ID)
    sure = forms.BooleanField(label="All of this, yes", required=False)

    def __init__(self, *args: Any, instrument: Instrument, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instrument = instrument
        self.wanted: layout.WorkToAdd | None = None
        # Rendered afresh each time: the same sending twice finds a newer task than the one it saw.
        self.newest_now = newest_task(instrument)
        self.fields["operation"].offer(offered_operations(instrument))  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        if not said.get("operation"):
            return said
        try:
            wanted = layout.what_to_add(
                instrument=self.instrument, operations=[said["operation"]], twice=bool(said.get("name"))
            )
        except Refused as refused:
            raise ValidationError(refused.message) from refused
        if wanted.is_more_than_asked and not said.get("sure"):
            self.wanted = wanted
            self.add_error("sure", f"“{said['operation'].name}” does not come alone. Look, then say yes.")
        return said


class AssignForm(forms.Form):
    person = forms.ModelChoiceField(
        queryset=Person.objects.none(), required=False, empty_label="nobody in particular"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["person"].queryset = Person.objects.working()  # type: ignore[attr-defined]


class OtherTaskForm(forms.Form):
    """Another task of the same instrument."""

    needs = forms.ModelChoiceField(
        label="Waits for", queryset=Task.objects.none(), empty_label="choose a task"
    )

    def __init__(self, *args: Any, task: Task, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.task = task
        others = Task.objects.in_the_job().filter(instrument=task.instrument_id).exclude(pk=task.pk)
        field = self.fields["needs"]
        field.queryset = others.select_related("department")  # type: ignore[attr-defined]
        field.label_from_instance = lambda other: f"{other.department.mark} · {other.name}"  # type: ignore[attr-defined]


class DropForm(forms.Form):
    reason = ReasonField(label="Why it is dropped")


class PartsForm(forms.Form):
    """Which parts of the piano work in own words holds while hands are on it."""

    parts = forms.MultipleChoiceField(
        label="What it holds",
        choices=list(PARTS.items()),
        widget=forms.CheckboxSelectMultiple,
        help_text="no other task can have these parts while this one is in hand",
    )


class MissingWorkForm(forms.Form):
    operation = IdField()


class MissingTieForm(forms.Form):
    earlier = IdField()
    later = IdField()


class MoveInOrderForm(forms.Form):
    """Up or down, by a few places at most."""

    places = forms.IntegerField(min_value=-100, max_value=100)

    def clean_places(self) -> int:
        places: int = self.cleaned_data["places"]
        if places == 0:
            raise ValidationError("Up or down by at least one place.")
        return places
