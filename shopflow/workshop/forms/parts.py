"""The form with which a missing part stops a task."""

from __future__ import annotations

from typing import Any, cast

from django import forms

from shopflow.people.models import Person
from shopflow.workshop.models import Task
from shopflow.workshop.querysets import TaskQuerySet

from .fields import ReasonField
from .taps import AskAgainForm


class TaskChoice(forms.ModelChoiceField):
    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.name}, {obj.department.name}"


class MissingPartForm(AskAgainForm):
    """Which task it stops, who owns it, when to ask again."""

    task = TaskChoice(
        label="It stops", queryset=Task.objects.none(), widget=forms.RadioSelect, empty_label=None
    )
    owner = forms.ModelChoiceField(
        label="Who owns it", queryset=Person.objects.none(), required=False, empty_label="someone outside"
    )
    owner_outside = ReasonField(
        label="Name of someone outside", required=False, widget=forms.TextInput(attrs={"maxlength": 80})
    )
    field_order = ["task", "owner", "owner_outside", "ask_again", "ask_again_on"]

    def __init__(self, *args: Any, tasks: TaskQuerySet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = cast("forms.ModelChoiceField[Task]", self.fields["task"])
        choice.queryset, choice.initial = tasks, tasks.first()
        cast("forms.ModelChoiceField[Person]", self.fields["owner"]).queryset = Person.objects.working()

    def clean_owner_outside(self) -> str:
        name: str = self.cleaned_data["owner_outside"]
        if len(name) > 80:
            raise forms.ValidationError(f"{len(name)} letters; allowed are 80.")
        return name
