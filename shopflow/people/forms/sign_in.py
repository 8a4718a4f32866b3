"""What people type when they come in."""

from __future__ import annotations

from django import forms

from shopflow.people import pins


class PinForm(forms.Form):
    pin = forms.CharField(
        label="PIN, six digits",
        max_length=20,
        widget=forms.PasswordInput(
            attrs={
                "inputmode": "numeric",
                "autocomplete": "off",
                "maxlength": pins.LENGTH,
                "autofocus": True,
                "class": "short",
            }
        ),
        error_messages={"required": "Type the six digits of your PIN."},
    )

    def clean_pin(self) -> str:
        pin: str = self.cleaned_data["pin"]
        if not pins.is_six_digits(pin):
            raise forms.ValidationError(f"A PIN is six digits, 0 to 9; these were {len(pin)} characters.")
        return pin


class PasswordSignInForm(forms.Form):
    sign_in_name = forms.CharField(
        label="Sign-in name",
        max_length=60,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )
    password = forms.CharField(
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
