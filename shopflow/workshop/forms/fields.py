"""Fields that a gloved hand fills: hours in any usual spelling, a day not too far off."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django import forms

from shopflow.common.text import TextField, on_one_line

_HOURS = re.compile(r"\d{1,2}(?:[.,]\d{1,2})?", re.ASCII)
BIGGEST_ID = 2**63 - 1


class HoursField(forms.CharField):
    """0.05 to 24 hours; a decimal comma is understood."""

    def to_python(self, value: Any) -> Any:
        typed = on_one_line(super().to_python(value) or "")
        if typed in self.empty_values:
            return None
        if not _HOURS.fullmatch(typed):
            raise forms.ValidationError(
                f"got “{typed[:20]}”; write a number from 0.05 to 24, such as 0.25 or 1.5."
            )
        return Decimal(typed.replace(",", "."))


class IdField(forms.IntegerField):
    """The number of a row; never typed by a person."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1, max_value=BIGGEST_ID, **kwargs)

    def to_python(self, value: Any) -> Any:
        if isinstance(value, str) and len(value) > 19:
            raise forms.ValidationError("not a number of ours")
        return super().to_python(value)


class ReasonField(TextField):
    """Words in a line or two, at most 300 letters."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.Textarea(attrs={"rows": 2, "maxlength": 300}))
        super().__init__(max_length=300, **kwargs)

    def to_python(self, value: Any) -> str:
        return on_one_line(super().to_python(value) or "")
