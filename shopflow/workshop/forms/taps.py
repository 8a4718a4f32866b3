"""The forms behind each tap of a bench."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, ClassVar, cast

from django import forms

from shopflow.common import clock
from shopflow.common.forms import OneOf
from shopflow.people.models import Person
from shopflow.workshop.models import Snag

from .fields import HoursField, IdField, ReasonField

WHY_STOPPED = [
    "colour not chosen yet",
    "customer has to approve first",
    "parts not back from outside",
    "not delivered yet",
    "a part is missing",
    "still soft, left to harden",
    "a joint has opened",
    "bench or booth is taken",
]
WHY_BACK = ["tapped by mistake", "found a fault in it", "did not pass the check", "came loose again"]
ASK_AGAIN_WITHIN = timedelta(days=366)
WRITE_SOMETHING = "Choose one of the phrases or write something."


def phrases(words: list[str]) -> list[tuple[str, str]]:
    return [(phrase, phrase) for phrase in words]


class WithReason(forms.Form):
    """A reason as a ready phrase, in own words, or both."""

    one_of: ClassVar[OneOf] = (("phrase", "reason"),)

    def why(self) -> str:
        chosen, written = self.cleaned_data.get("phrase", ""), self.cleaned_data.get("reason", "")
        return f"{chosen}: {written}"[:300] if chosen and written else chosen or written


class MoveForm(WithReason):
    """One stage on, or back with a reason."""

    seen = IdField(widget=forms.HiddenInput)
    to = IdField(widget=forms.HiddenInput)
    phrase = forms.ChoiceField(
        label="Why", choices=phrases(WHY_BACK), required=False, widget=forms.RadioSelect
    )
    reason = ReasonField(label="In your own words", required=False)
    override = forms.BooleanField(required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        # It stands on a page beside the form for a snag, whose fields bear the same names.
        kwargs.setdefault("auto_id", "back_%s")
        super().__init__(*args, **kwargs)


class UndoForm(forms.Form):
    """Which move is taken back; `sure` where it was asked first."""

    move = IdField(widget=forms.HiddenInput)
    sure = forms.BooleanField(required=False, widget=forms.HiddenInput)


class EmptyForm(forms.Form):
    """A deed that needs no more than the tap."""


class HoursForm(forms.Form):
    hours = HoursField(label="Hours")
    worked_on = forms.DateField(
        label="Worked on", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )


class TakeBackForm(forms.Form):
    entry = IdField(widget=forms.HiddenInput)


class AskAgainForm(forms.Form):
    """When to ask again: one of three chips, or a day of one's own."""

    one_of: ClassVar[OneOf] = (("ask_again", "ask_again_on"),)

    ask_again = forms.ChoiceField(label="Ask again", required=False, widget=forms.RadioSelect)
    ask_again_on = forms.DateField(
        label="or on", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # A tap kept on a tablet for days still names the day it meant, so chips carry dates.
        chips = ask_again_days(clock.today())
        self._chips.choices = chips
        self._chips.initial = chips[1][0]
        if self.is_bound and self.data.get("ask_again"):
            self._keep_older_chip(self.data["ask_again"])

    def _keep_older_chip(self, sent: str) -> None:
        chips = ask_again_days(clock.today())
        try:
            date.fromisoformat(sent)
        except ValueError:
            return
        if sent not in dict(chips):
            self._chips.choices = [*chips, (sent, sent)]

    @property
    def _chips(self) -> forms.ChoiceField:
        return cast(forms.ChoiceField, self.fields["ask_again"])

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        chip = said.get("ask_again")
        day = said.get("ask_again_on") or (date.fromisoformat(chip) if chip else None)
        if "ask_again_on" in self.errors:
            return said
        if day is None:
            self.add_error("ask_again", "Choose a day on which to ask again.")
        elif day > clock.today() + ASK_AGAIN_WITHIN:
            self.add_error("ask_again_on", f"got {day}; allowed is today to one year from now.")
        return said | {"day": day}


class SnagForm(AskAgainForm, WithReason):
    """What stops a task, who owns it, when to ask again."""

    one_of: ClassVar[OneOf] = (*WithReason.one_of, *AskAgainForm.one_of)
    cause = forms.ChoiceField(label="What stops it", choices=Snag.Cause.choices, widget=forms.RadioSelect)
    phrase = forms.ChoiceField(
        label="In words", choices=phrases(WHY_STOPPED), required=False, widget=forms.RadioSelect
    )
    reason = ReasonField(label="Or in your own words", required=False)
    owner = forms.ModelChoiceField(
        label="Who owns it", queryset=Person.objects.none(), required=False, empty_label="someone outside"
    )
    owner_outside = ReasonField(
        label="Name of someone outside", required=False, widget=forms.TextInput(attrs={"maxlength": 80})
    )

    field_order = ["cause", "phrase", "reason", "owner", "owner_outside", "ask_again", "ask_again_on"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "snag_%s")
        super().__init__(*args, **kwargs)
        cast("forms.ModelChoiceField[Person]", self.fields["owner"]).queryset = Person.objects.working()

    def clean_owner_outside(self) -> str:
        name = self.cleaned_data["owner_outside"]
        if len(name) > 80:
            raise forms.ValidationError(f"{len(name)} letters; allowed are 80.")
        return name

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        if "reason" not in self.errors and not self.why():
            self.add_error("reason", WRITE_SOMETHING)
        return said


def ask_again_days(today: date) -> list[tuple[str, str]]:
    """Tomorrow, in three days, in a week, each with its date.

    >>> ask_again_days(date(2026, 11, 24))[0]
    ('2026-11-25', 'tomorrow, Wed 25 Nov')
    """
    words = {1: "tomorrow", 3: "in 3 days", 7: "in a week"}
    days = [(today + timedelta(days=ahead), word) for ahead, word in words.items()]
    return [(f"{day:%Y-%m-%d}", f"{word}, {day:%a} {day.day} {day:%b}") for day, word in days]
