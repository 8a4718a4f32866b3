"""Paid hours for each weekday, in any usual spelling."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
MOST = 16
_HOURS = re.compile(r"\d{1,2}(?:[.,]\d{1,2})?", re.ASCII)


class DayHoursField(forms.CharField):
    """0 to 16 hours, empty for a day off; a decimal comma is understood."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, **kwargs)
        self.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off", "maxlength": 6}

    def to_python(self, value: Any) -> Any:
        typed = super().to_python(value) or ""
        hours = Decimal(typed.replace(",", ".")) if _HOURS.fullmatch(typed) else None
        if typed and (hours is None or hours > MOST):
            raise forms.ValidationError(
                f"“{typed[:20]}” are no hours of a day: 0 to {MOST}, such as 8 or 7.5."
            )
        return hours or Decimal(0)


def add_day_fields(form: forms.BaseForm, hours: Mapping[int, Decimal]) -> None:
    for day, name in enumerate(WEEKDAYS):
        form.fields[f"hours_{day}"] = DayHoursField(label=name)
        form.initial[f"hours_{day}"] = _short(hours.get(day))


def hours_in(cleaned: Mapping[str, Any]) -> dict[int, Decimal]:
    return {day: cleaned[f"hours_{day}"] for day in range(7) if cleaned[f"hours_{day}"]}


def _short(hours: Decimal | None) -> str:
    """
    >>> _short(Decimal("8.00")), _short(Decimal("7.50")), _short(None)
    ('8', '7.5', '')
    """
    return f"{hours:f}".rstrip("0").rstrip(".") if hours else ""
