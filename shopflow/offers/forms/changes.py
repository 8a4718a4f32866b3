"""What the office types of a change order, and what it enters of an answer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from shopflow.catalogue.models import Remedy, Terms
from shopflow.common.forms import DayField, LineField, NoteField, WholeNumberField
from shopflow.offers.models import ChangeChoice, ChangeOrder
from shopflow.offers.services.changes import FACTS
from shopflow.offers.services.choices import CHOICE_FACTS
from shopflow.photos.models import Photo
from shopflow.workshop.forms.fields import IdField
from shopflow.workshop.models import Task

from .money import MoneyField

MOST_DAYS = 999


class PhotoChoice(forms.ModelChoiceField):
    def label_from_instance(self, obj: Any) -> str:
        told = obj.caption or obj.get_role_display()
        return f"{told}, {obj.added_at:%d %b %Y}"


class TaskTicks(forms.ModelMultipleChoiceField):
    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.name}, in {obj.department.name}, now “{obj.stage.name}”"


class ChangeForm(forms.Form):
    """The facts of a change order; its choices are forms of their own beside it."""

    what = NoteField(label="What it is, in plain words", max_length=400, required=False, rows=2)
    why_hidden = NoteField(
        label="Why it could not be seen before",
        max_length=400,
        required=False,
        rows=2,
        help_text="for example: it lay under the plate, which came out only now",
    )
    photo = PhotoChoice(
        label="Photo for the customer",
        queryset=Photo.objects.none(),
        required=False,
        empty_label="no photo",
        help_text="who is asked sees this photo",
    )
    decide_by = DayField(label="Decide by")
    moves_promise = forms.BooleanField(
        label="The promised day moves by the days of the answer", required=False
    )
    stops = TaskTicks(
        label="What stops until the answer is here",
        queryset=Task.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    mail_to = forms.EmailField(
        label="Send it by mail to",
        max_length=254,
        required=False,
        help_text="when it is put before the customer; empty: you pass the link on yourself",
    )
    edition = WholeNumberField(least=1, most=2_000_000_000, widget=forms.HiddenInput)

    def __init__(self, data: Mapping[str, Any] | None = None, *, change: ChangeOrder) -> None:
        super().__init__(data, initial=_facts_of(change))
        photos = Photo.objects.filter(instrument=change.instrument, state=Photo.State.READY, hidden_at=None)
        self.fields["photo"].queryset = photos.order_by("-added_at")  # type: ignore[attr-defined]
        tasks = Task.objects.open().before_leaving().filter(instrument=change.instrument)
        self.fields["stops"].queryset = (  # type: ignore[attr-defined]
            tasks.select_related("department", "stage").order_by("position", "pk")
        )

    @property
    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in FACTS}


class ChoiceForm(forms.Form):
    """One answer that may be given."""

    offered = forms.BooleanField(label="Offer this", required=False)
    remedy = forms.ModelChoiceField(
        label="By which remedy",
        queryset=Remedy.objects.none(),
        required=False,
        empty_label="in own words: nothing is laid out by itself",
    )
    words = NoteField(label="What is done", max_length=400, required=False, rows=2)
    consequence = NoteField(label="What to expect", max_length=400, required=False, rows=2)
    price = MoneyField(label="Price", required=False)
    price_reason = LineField(label="Why less than it costs us", max_length=200, required=False)
    price_later = MoneyField(label="If it is done later instead", required=False)
    days_low = WholeNumberField(label="Later by, from days", least=0, most=MOST_DAYS, required=False)
    days_high = WholeNumberField(label="to days", least=0, most=MOST_DAYS, required=False)

    def __init__(self, data: Mapping[str, Any] | None = None, *, kind: str, change: ChangeOrder) -> None:
        self.kind = kind
        self.row = next((row for row in change.choices.all() if row.kind == kind), None)
        super().__init__(data, prefix=kind, initial=_choice_facts_of(self.row))
        if change.finding.kind_id:
            remedies = Remedy.objects.in_use().filter(finding_kind=change.finding.kind_id)
            self.fields["remedy"].queryset = (  # type: ignore[attr-defined]
                remedies.filter(only_for__in=["", change.instrument.kind])
            )
        dropped = (
            ["remedy", "price", "price_reason", "days_low", "days_high"]
            if self.is_leaving
            else ["price_later"]
        )
        for name in dropped:
            del self.fields[name]
        if change.policy == Terms.Surprise.FIXED and "price" in self.fields:
            del self.fields["price"], self.fields["price_reason"]

    @property
    def is_leaving(self) -> bool:
        return self.kind == ChangeChoice.Kind.LEAVE

    @property
    def title(self) -> str:
        return str(ChangeChoice.Kind(self.kind).label)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        low, high = said.get("days_low"), said.get("days_high")
        if low is not None and high is not None and low > high:
            raise ValidationError({"days_high": f"Got {low} to {high}; the second is at least the first."})
        if said.get("offered") and not said.get("words"):
            raise ValidationError({"words": "Say what is done."})
        return said

    @property
    def facts(self) -> dict[str, Any] | None:
        """What was typed; nothing where this answer is not offered."""
        if not self.cleaned_data.get("offered"):
            return None
        return {name: self.cleaned_data.get(name) for name in CHOICE_FACTS} | {
            "price_reason": self.cleaned_data.get("price_reason") or ""
        }


class AnswerForm(forms.Form):
    """The answer of a customer: a choice, a typed name, and the words it was given to."""

    choice = IdField(widget=forms.HiddenInput)
    typed_name = LineField(label="Your name, in place of a signature", max_length=80)
    fingerprint = forms.RegexField(r"\A[0-9a-f]{64}\Z", widget=forms.HiddenInput)


class EnteredAnswerForm(AnswerForm):
    """The same, as it came on paper or by mail."""

    choice = IdField(label="The answer")
    typed_name = LineField(label="Who answered", max_length=80)


def choice_forms(change: ChangeOrder, data: Mapping[str, Any] | None = None) -> list[ChoiceForm]:
    """One form for each kind of answer there is."""
    return [ChoiceForm(data, kind=kind, change=change) for kind in ChangeChoice.Kind.values]


def _facts_of(change: ChangeOrder) -> dict[str, Any]:
    facts = {name: getattr(change, name) for name in FACTS}
    customer = change.instrument.customer
    facts["mail_to"] = customer.email if customer else ""
    return facts | {"edition": change.edition, "stops": [task.pk for task in change.stops.all()]}


def _choice_facts_of(row: ChangeChoice | None) -> dict[str, Any]:
    if row is None:
        return {"offered": False}
    return {name: getattr(row, name) for name in CHOICE_FACTS} | {"offered": True}
