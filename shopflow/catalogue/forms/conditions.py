"""Forms of the library: kinds of finding, and the remedies of each."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.db.models import Q

from shopflow.catalogue.models import FindingKind, Kind, Operation, Remedy
from shopflow.catalogue.services.conditions import KIND_FACTS, REMEDY_FACTS
from shopflow.common.text import TextField

from .base import LineField, SetUpForm, limit

ASPECTS = ("safety", "playing", "tone", "looks", "durability")
FOR_BOTH = [("", "uprights and grands"), *Kind.choices]
TOUCHES = [(0, "not at all"), (1, "a little"), (2, "much"), (3, "wholly")]


class FindingKindForm(SetUpForm):
    class Meta:
        model = FindingKind
        fields = KIND_FACTS
        field_classes = {"name": LineField, "severity_cue": LineField} | dict.fromkeys(
            ["plain_words", "how_seen", "if_left"], TextField
        )
        widgets = {name: forms.Textarea(attrs={"rows": 2}) for name in ("plain_words", "how_seen", "if_left")}
        help_texts = {
            "if_left": "goes into the scope, the offer and the report, word for word",
            "stops": "wherever it is found, the piano is not called safe, playable or tuned before",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        limit(self.fields["usual_severity"], least=0, most=4)
        self.fields["only_for"].choices = FOR_BOTH  # type: ignore[attr-defined]
        stops = [("", "nothing"), *FindingKind.Stops.choices]
        self.fields["stops"].choices = stops  # type: ignore[attr-defined]
        _offer_operations(self, "forbids")
        for aspect in ASPECTS:
            self.fields[aspect] = forms.TypedChoiceField(label=aspect, choices=TOUCHES, coerce=int, initial=0)

    def sides(self) -> list[forms.BoundField]:
        """How much it touches each side."""
        return [self[aspect] for aspect in ASPECTS]


class RemedyForm(SetUpForm):
    class Meta:
        model = Remedy
        fields = REMEDY_FACTS
        field_classes = {"name": LineField, "note": LineField}
        widgets = {"operations": forms.CheckboxSelectMultiple}
        help_texts = {"operations": "what must be open for them, and what closes it again, comes by itself"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        limit(self.fields["cures"], least=1, most=100)
        self.fields["only_for"].choices = FOR_BOTH  # type: ignore[attr-defined]
        for name in ("operations", "besides_upright", "besides_grand"):
            _offer_operations(self, name)


def _offer_operations(form: SetUpForm, name: str) -> None:
    """Operations in use, and retired ones that are chosen already."""
    chosen = [getattr(one, "pk", one) for one in form.as_it_is.get(name) or []]
    field = cast(forms.ModelMultipleChoiceField, form.fields[name])
    rows = Operation.objects.select_related("department")
    field.queryset = rows.filter(Q(retired_at=None) | Q(pk__in=chosen))
    field.label_from_instance = _operation_label  # type: ignore[assignment, method-assign]


def _operation_label(operation: Any) -> str:
    return f"{operation.name} ({operation.department.name})"
