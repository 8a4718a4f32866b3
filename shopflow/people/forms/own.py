"""A person's own keys: a new password, a new PIN."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password

from shopflow.people.models import Person

from .staff import PinChoiceForm

_NOW = forms.PasswordInput(attrs={"autocomplete": "current-password"})


class OwnPasswordForm(forms.Form):
    now = forms.CharField(label="Password until now", max_length=200, strip=False, widget=_NOW)
    new = forms.CharField(
        label="New password",
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text="at least 10 characters; a few words that do not belong together are good",
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_new(self) -> str:
        new: str = self.cleaned_data["new"]
        validate_password(new, self.person)
        if new == self.cleaned_data.get("now"):
            raise forms.ValidationError("That is the one you have now.")
        return new


class OwnPinForm(PinChoiceForm):
    """Asks once more for the key that opened this presence: the PIN on a tablet, else the password."""

    now = forms.CharField(max_length=200, strip=False, widget=_NOW)
    field_order = ["now", "pin"]

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["now"].label = "PIN until now" if person.by_pin else "Your password"
        if person.by_pin:
            self.fields["now"].widget.attrs |= {"inputmode": "numeric", "autocomplete": "off"}
