"""A tablet's name and measure, and the code that makes a device that tablet."""

from __future__ import annotations

import re
from typing import Any

from django import forms

from shopflow.common.text import TextField
from shopflow.people.models import Tablet


class TabletForm(forms.ModelForm):
    name = TextField(max_length=40, label="Name", help_text="by where it lies, like Refinishing tablet")

    class Meta:
        model = Tablet
        fields = ["name", "department", "pixels_per_mm"]
        labels = {"department": "Whose bench", "pixels_per_mm": "Pixels in a millimetre"}
        help_texts = {
            "department": "whose people stand first on its name screen",
            "pixels_per_mm": "5.20 suits most. To be exact: open /tablet/ on it and lay a ruler on the bar."
            " If that is not 50 mm long, write this value × 50 ÷ the millimetres you read.",
        }
        error_messages = {"name": {"unique": "Another tablet has this name."}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        benches = self.fields["department"]
        benches.queryset = benches.queryset.filter(retired_at=None)  # type: ignore[attr-defined]

    def say(self, name: str, fact: Any) -> tuple[str, str]:
        """A fact of `services.tablets.facts_of` as label and words."""
        field = self.fields[name]
        if isinstance(field, forms.ModelChoiceField):
            return str(field.label), str(field.queryset.filter(pk=fact).first() or "none")  # type: ignore[union-attr]
        return str(field.label), str(fact)


class CodeForm(forms.Form):
    code = forms.CharField(
        label="Code, eight digits",
        max_length=40,
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "class": "short"}),
    )

    def clean_code(self) -> str:
        code = re.sub(r"[\s-]", "", self.cleaned_data["code"])
        if not re.fullmatch(r"[0-9]{8}", code):
            raise forms.ValidationError("The code is eight digits, 0 to 9, as the office’s page shows it.")
        return code
