"""What the office types about a person."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Q
from django.utils.text import slugify

from shopflow.common.text import TextField
from shopflow.people import access, pins
from shopflow.people.access import Deed
from shopflow.people.models import OFFICE, Person, Role

from .hours import WEEKDAYS, add_day_fields, hours_in


class PersonForm(forms.ModelForm):
    """`by` is who types: only an owner finds the office's roles among the choices."""

    name = TextField(
        max_length=60, help_text="as colleagues know it: it stands on every tablet", label="Name"
    )

    class Meta:
        model = Person
        fields = ["name", "sign_in_name", "role", "home", "benches", "email"]
        labels = {
            "sign_in_name": "Sign-in name",
            "home": "Home bench",
            "benches": "Other benches",
            "email": "E-mail",
        }
        help_texts = {
            "sign_in_name": "small letters, digits and hyphens; empty: made from the name",
            "benches": "where this person may move work besides the home bench",
            "email": "only for the office: the weekly report goes there",
        }
        widgets = {"benches": forms.CheckboxSelectMultiple, "role": forms.RadioSelect}
        error_messages = {"sign_in_name": {"unique": "Someone else signs in with this name already."}}

    def __init__(self, *args: Any, by: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["sign_in_name"].required = False
        self.fields["sign_in_name"].widget.attrs |= {"autocapitalize": "none", "spellcheck": "false"}
        self.fields["role"].choices = self._roles(by)  # type: ignore[attr-defined]
        for name in ("home", "benches"):
            self.fields[name].queryset = self._benches(name)  # type: ignore[attr-defined]
        days = self.instance.working_days.all() if self.instance.pk else []
        add_day_fields(self, {day.weekday: day.hours for day in days})

    def _roles(self, by: Person) -> list[tuple[str, str]]:
        given = OFFICE if access.may(by, Deed.ROLES) else frozenset[Role]()
        offered = {Role.HAND, *given, self.instance.role}
        return [choice for choice in Role.choices if choice[0] in offered]

    def _benches(self, name: str) -> Any:
        """Departments in use, and those that this person belongs to already."""
        known = Q(retired_at=None)
        if self.instance.pk:
            known |= Q(home_of=self.instance) | Q(hands=self.instance)
        return self.fields[name].queryset.filter(known).distinct()  # type: ignore[attr-defined]

    @property
    def days(self) -> list[forms.BoundField]:
        return [self[f"hours_{day}"] for day in range(len(WEEKDAYS))]

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"]
        same = Person.objects.working().filter(name__iexact=name).exclude(pk=self.instance.pk)
        if same.exists():
            raise forms.ValidationError("Someone here has this name already: add what tells them apart.")
        return name

    def clean_sign_in_name(self) -> str:
        typed = self.cleaned_data["sign_in_name"] or slugify(self.cleaned_data.get("name", ""))[:40]
        if not typed:
            raise forms.ValidationError("Write a sign-in name: small letters, digits and hyphens.")
        return typed.lower()

    def say(self, name: str, fact: Any) -> tuple[str, str]:
        """A fact of `services.staff.facts_of` as label and words."""
        if name == "hours":
            words = [f"{WEEKDAYS[int(day)]} {float(hours):g}" for day, hours in fact.items()]
            return "Hours", ", ".join(words) or "none"
        field = self.fields[name]
        if isinstance(field, forms.ModelChoiceField):
            chosen = field.queryset.filter(  # type: ignore[union-attr]
                pk__in=fact if isinstance(fact, list) else [fact]
            )
            return str(field.label), ", ".join(map(str, chosen)) or "none"
        if isinstance(field, forms.ChoiceField):
            return str(field.label), str(Role(fact).label)
        return str(field.label), str(fact) or "nothing"

    def details(self) -> dict[str, Any]:
        """What was typed, as the services take it."""
        names = ["name", "sign_in_name", "role", "home", "email"]
        given = {name: self.cleaned_data[name] for name in names}
        return given | {"benches": list(self.cleaned_data["benches"]), "hours": hours_in(self.cleaned_data)}


class PinChoiceForm(forms.Form):
    """A PIN typed by the office for someone, or by the person for itself."""

    pin = forms.CharField(
        label="New PIN, six digits",
        max_length=20,
        widget=forms.TextInput(
            attrs={"inputmode": "numeric", "autocomplete": "off", "maxlength": pins.LENGTH}
        ),
        help_text="not a run, a year or a repetition: colleagues try those first",
    )

    def clean_pin(self) -> str:
        pin: str = self.cleaned_data["pin"]
        try:
            pins.check_choice(pin)
        except pins.PinRefused as refused:
            raise forms.ValidationError(str(refused)) from refused
        return pin
