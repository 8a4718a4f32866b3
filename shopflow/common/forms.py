"""Fields that every form of the shop may use: each names what was given and what is allowed."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from .text import TextField, on_one_line

# Groups of fields of which one has to be filled; a form says so by itself, for the page and for its outbox.
OneOf = tuple[tuple[str, ...], ...]
LONGEST_NUMBER = 12
_NUMBER = re.compile(r"[+-]?\d{1,9}(?:\.\d{0,6})?")


class LineField(TextField):
    """Words on one line."""

    def to_python(self, value: Any) -> str:
        return on_one_line(super().to_python(value))


class NoteField(TextField):
    """Words that may run over several lines."""

    def __init__(self, *, rows: int = 3, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.Textarea(attrs={"rows": rows}))
        super().__init__(**kwargs)


class WholeNumberField(forms.CharField):
    """A whole number between two bounds, in any digits a person may type."""

    def __init__(self, *, least: int, most: int, **kwargs: Any) -> None:
        self.least, self.most = least, most
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "numeric", "class": "short"}))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Any:
        typed = (super().to_python(value) or "").strip()
        if typed in self.empty_values:
            return None
        if not typed.isdecimal() or len(typed) > LONGEST_NUMBER or not self.least <= int(typed) <= self.most:
            raise ValidationError(f"Got “{typed[:20]}”; allowed is {self.least} to {self.most}.")
        return int(typed)


class NumberField(forms.CharField):
    """A number between two bounds, with a decimal point or a decimal comma, in any digits."""

    def __init__(self, *, least: Decimal | int, most: Decimal | int, **kwargs: Any) -> None:
        self.least, self.most = Decimal(least), Decimal(most)
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "class": "short"}))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Any:
        typed = on_one_line((super().to_python(value) or "").strip())
        if typed in self.empty_values:
            return None
        plain = typed.replace("−", "-").replace(",", ".")
        if not _NUMBER.fullmatch(plain) or not self.least <= Decimal(plain) <= self.most:
            raise ValidationError(
                f"Got “{typed[:20]}”; write a number alone, from {self.least:f} to {self.most:f}."
            )
        return Decimal(plain) + 0


class DayField(forms.DateField):
    """A day between two bounds."""

    def __init__(
        self, *, least: date = date(2000, 1, 1), most: date = date(2099, 12, 31), **kwargs: Any
    ) -> None:
        self.least, self.most = least, most
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        kwargs.setdefault("input_formats", ["%Y-%m-%d"])
        super().__init__(**kwargs)
        self.error_messages["invalid"] = (
            "There is no such day. Write it as year-month-day, such as 2026-11-25."
        )

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value is not None and not self.least <= value <= self.most:
            raise ValidationError(
                f"Got {value:%Y-%m-%d}; allowed is {self.least:%Y-%m-%d} to {self.most:%Y-%m-%d}."
            )
