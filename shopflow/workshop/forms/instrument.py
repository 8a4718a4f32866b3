"""What the office types about an instrument: at the door, and later."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from shopflow.catalogue.models import Kind, Route
from shopflow.common import clock
from shopflow.common.forms import DayField, LineField, NoteField, WholeNumberField
from shopflow.customers.models import Customer
from shopflow.instruments.models import Instrument
from shopflow.instruments.serials import lookalikes
from shopflow.workshop.services.intake import FACTS, next_number

from .fields import ReasonField

OWNER = {"owner_name": "name", "owner_email": "email", "owner_phone": "phone"}


class AnotherOne(forms.ModelMultipleChoiceField):
    """A tick for each instrument that looks the same: "yes, this is another one"."""

    def label_from_instance(self, obj: Any) -> str:
        gone = f", left on {obj.left_on:%d %b %Y}" if obj.left_on else ", in the house now"
        return f"This is not instrument {obj.number} ({obj.title}, serial {obj.serial}{gone})"


class OwnerField(forms.ModelChoiceField):
    def label_from_instance(self, obj: Any) -> str:
        """Two of the same name are told apart by how one reaches them."""
        return ", ".join(part for part in (obj.name, obj.email or obj.phone) if part)


class FactsForm(forms.Form):
    """The facts of one instrument, its owner among them: chosen, or written down now."""

    number = LineField(max_length=12, widget=forms.TextInput(attrs={"class": "short", "autocomplete": "off"}))
    kind = forms.ChoiceField(choices=Kind.choices, widget=forms.RadioSelect)
    maker = LineField(max_length=60, required=False, widget=forms.TextInput(attrs={"list": "makers"}))
    serial = LineField(
        label="Serial number",
        max_length=30,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    year_built = WholeNumberField(label="Built in the year", least=1700, most=2100, required=False)
    size_cm = WholeNumberField(
        label="Size in cm",
        help_text="height of an upright, length of a grand",
        least=80,
        most=320,
        required=False,
    )
    finish = LineField(max_length=80, required=False, help_text="for example: walnut veneer, French polished")
    alterations = NoteField(label="Alterations by earlier owners", max_length=2000, required=False)
    fragile = NoteField(
        label="Fragile parts",
        max_length=500,
        required=False,
        rows=2,
        help_text="shown as a warning wherever the instrument is shown",
    )
    place = LineField(
        label="Place in the house",
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"list": "places"}),
    )
    promised_on = DayField(label="Promised for", required=False)
    customer = OwnerField(
        label="Owner",
        queryset=Customer.objects.all(),
        required=False,
        empty_label="not known, or someone new",
    )
    owner_name = LineField(label="Someone new: name", max_length=80, required=False)
    owner_email = forms.EmailField(label="E-mail", max_length=254, required=False)
    owner_phone = LineField(label="Phone", max_length=40, required=False)
    another_one = AnotherOne(
        label="Looks like an instrument the shop knows",
        queryset=Instrument.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    instrument: Instrument | None = None

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # Those that look the same are known only from what was typed.
        typed = self.fields["serial"].to_python(self.data.get("serial", "")) if self.is_bound else ""
        self.alike = lookalikes(str(typed), besides=self.instrument.pk if self.instrument else None)
        pks = [other.pk for other in self.alike]
        self.fields["another_one"].queryset = Instrument.objects.filter(pk__in=pks)  # type: ignore[attr-defined]

    def clean_number(self) -> str:
        number: str = self.cleaned_data["number"]
        if number.lower() == "new":
            raise ValidationError(
                "“new” is the address of the page that takes instruments in; choose another."
            )
        for check in Instrument._meta.get_field("number").validators:
            check(number)
        others = Instrument.objects.filter(number__iexact=number)
        if self.instrument:
            others = others.exclude(pk=self.instrument.pk)
        if others.exists():
            raise ValidationError(
                f"{number} is another instrument already. The next free number is {next_number()}."
            )
        return number

    def clean_year_built(self) -> int | None:
        year: int | None = self.cleaned_data["year_built"]
        if year is not None and year > clock.today().year:
            raise ValidationError(f"Got {year}; allowed is 1700 to {clock.today().year}.")
        return year

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        self._check_owner(said)
        missing = {other.pk for other in self.alike} - {other.pk for other in said.get("another_one") or []}
        if missing and "another_one" not in self.errors:
            numbers = ", ".join(other.number for other in self.alike if other.pk in missing)
            self.add_error(
                "another_one",
                f"This serial looks like instrument {numbers}. Tick that it is another one, or correct the"
                " serial. One that has come back is taken in again from its own page.",
            )
        return said

    def _check_owner(self, said: Mapping[str, Any]) -> None:
        written = [name for name in OWNER if said.get(name)]
        if written and said.get("customer"):
            self.add_error("customer", "Choose an owner from the list or write down someone new, not both.")
        elif written and not said.get("owner_name") and "owner_name" not in self.errors:
            self.add_error("owner_name", "Someone new needs a name.")

    @property
    def new_owner(self) -> dict[str, str] | None:
        if not self.cleaned_data.get("owner_name"):
            return None
        return {to: self.cleaned_data[name] for name, to in OWNER.items()}

    @property
    def facts(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in FACTS}


class TakeInForm(FactsForm):
    """Everything at the door: the facts, the day it came, and the work to start at once."""

    arrived_on = DayField(label="Arrived on")
    route = forms.ModelChoiceField(
        label="Start at once on a route",
        queryset=Route.objects.in_use(),
        required=False,
        empty_label="not yet: lay out its work later",
    )

    def clean_arrived_on(self) -> Any:
        day = self.cleaned_data["arrived_on"]
        if day > clock.today():
            raise ValidationError(f"Got {day:%Y-%m-%d}, which is in the future; allowed is today or earlier.")
        return day

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        arrived, promised, route = (said.get(name) for name in ("arrived_on", "promised_on", "route"))
        if arrived and promised and promised < arrived:
            self.add_error(
                "promised_on", f"Got {promised:%Y-%m-%d}, before it arrived on {arrived:%Y-%m-%d}."
            )
        if route and said.get("kind") and route.kind != said["kind"]:
            self.add_error("route", f"“{route.name}” is a route for {route.get_kind_display()}s.")
        return said


class ChangeFactsForm(FactsForm):
    """The facts of a known instrument, with the version of them that was seen."""

    version = WholeNumberField(least=1, most=2_000_000_000, widget=forms.HiddenInput)

    def __init__(self, *args: Any, instrument: Instrument, **kwargs: Any) -> None:
        self.instrument = instrument
        super().__init__(*args, initial=facts_of(instrument), **kwargs)

    def differences(self, now: Instrument) -> list[tuple[str, str, str]]:
        """Label, what stands in the shop now and what was typed, wherever the two differ."""
        both = [(name, getattr(now, name), self.cleaned_data[name]) for name in FACTS]
        return [
            (str(self[name].label), in_words(there), in_words(typed))
            for name, there, typed in both
            if there != typed
        ]


class PromiseForm(forms.Form):
    promised_on = DayField(label="Promised for", required=False, help_text="empty: no date promised")
    version = WholeNumberField(least=1, most=2_000_000_000, widget=forms.HiddenInput)


class LeaveForm(forms.Form):
    reason = ReasonField(label="Why it leaves unfinished", required=False)
    without_parts = ReasonField(label="Why it leaves without all its parts", required=False)


class ReturnForm(forms.Form):
    on = DayField(label="Came back on")


def in_words(fact: Any) -> str:
    """
    >>> in_words(None), in_words(1904)
    ('nothing', '1904')
    """
    if isinstance(fact, date):
        return f"{fact:%d %b %Y}"
    return "nothing" if fact in (None, "") else str(fact)


def facts_of(instrument: Instrument) -> dict[str, Any]:
    return {name: getattr(instrument, name) for name in FACTS} | {"version": instrument.version}
