"""A sum of money as people type it."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

from django import forms

from shopflow.common.text import on_one_line

HIGHEST = Decimal(99_999)
_SUM = re.compile(r"\d{1,6}(?:[.,]\d{1,2})?", re.ASCII)
# A point or comma before three digits parts thousands: “1,240”.
_THOUSANDS = re.compile(r"(\d{1,3})[.,' ](\d{3})(?=$|[.,]\d{1,2}$)", re.ASCII)


class MoneyField(forms.CharField):
    """0 to 99,999; point or comma before the pence."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "class": "short"}))
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, Decimal):
            return f"{value:.0f}" if value == value.to_integral_value() else f"{value:.2f}"
        return value

    def to_python(self, value: Any) -> Any:
        typed = on_one_line(super().to_python(value) or "").strip().lstrip("£€$ ")
        if typed in self.empty_values:
            return None
        amount = _THOUSANDS.sub(r"\1\2", typed)
        if not _SUM.fullmatch(amount) or Decimal(amount.replace(",", ".")) > HIGHEST:
            raise forms.ValidationError(
                f"got “{typed[:20]}”; allowed is 0 to {HIGHEST:,}, such as 640 or 640.50."
            )
        return Decimal(amount.replace(",", "."))
