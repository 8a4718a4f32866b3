"""Fields that take a measure as it is typed at a bench, with its unit or without."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError

from shopflow.catalogue.models import Units
from shopflow.common.forms import LineField
from shopflow.readings.measures import LONGEST, Measure, NotAMeasure, Quantity, read_measure, tidy

BEYOND = "beyond"


class MeasureField(LineField):
    """A number between two bounds (in the kept unit). Beyond them it is asked for again, not thrown away."""

    def __init__(self, *, quantity: Quantity, least: float, most: float, **kwargs: Any) -> None:
        self.quantity, self.least, self.most = quantity, least, most
        self.units: str = Units.METRIC
        self.name = kwargs.get("label", "")
        attrs = {"inputmode": "decimal", "autocomplete": "off", "class": "short", "maxlength": LONGEST}
        kwargs.setdefault("widget", forms.TextInput(attrs=attrs))
        super().__init__(max_length=LONGEST, **kwargs)

    def speak(self, units: str) -> None:
        """Take this shop's unit into the label, and name the range."""
        self.units = units
        unit = self.quantity.unit(units).name
        self.label = f"{self.name}, {unit}" if unit else self.name
        if isinstance(self.initial, (int, float)):
            # A usual value is said in the kept unit, and offered in the shop's own.
            self.initial = self._short(self.initial)
        self.help_text = " ".join(part for part in (str(self.help_text), self.range_words()) if part)

    def range_words(self) -> str:
        unit = self.quantity.unit(self.units).name
        return f"{self._short(self.least)} to {self._short(self.most)} {unit}".strip()

    def _short(self, kept: float) -> str:
        places = self.quantity.places(self.units) + 1
        words = tidy(self.quantity.unit(self.units).shown(kept), min(places, 3))
        return words.rstrip("0").rstrip(".") if "." in words else words

    def to_python(self, value: Any) -> Any:
        typed = super().to_python(value)
        if typed in self.empty_values:
            return None
        try:
            return self.measure(typed)
        except NotAMeasure as why:
            raise ValidationError(str(why)) from why

    def measure(self, typed: str) -> Measure:
        return read_measure(typed, self.quantity, self.units)

    def validate(self, value: Any) -> None:
        super().validate(value)
        if isinstance(value, Measure) and not self.least <= value.value <= self.most:
            words = f"Got {value}; possible is {self.range_words()}. Measured again?"
            raise ValidationError(words, code=BEYOND)

    def run_validators(self, value: Any) -> None:
        """A measure is not a text: its length was limited before it was read."""


class SumForm(forms.Form):
    """What one sum is given. Fields bear the names of the parameters of `compute`, so that its refusals
    find them; `given` are the kept values, `typed` what stands on the sheet as evidence."""

    # Whether a value beyond what is possible may be kept, with its mark, after a yes.
    may_keep = True
    yes = forms.BooleanField(required=False, label="Measured again: keep it as it is")

    def __init__(self, *args: Any, units: str = Units.METRIC, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", f"{kwargs.get('prefix') or type(self).__name__.lower()}_%s")
        super().__init__(*args, **kwargs)
        self.units = units
        for _, field in self._measures():
            field.speak(units)

    def _measures(self) -> Iterator[tuple[str, MeasureField]]:
        for name, field in self.fields.items():
            if isinstance(field, MeasureField):
                yield name, field

    @property
    def shown(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name != "yes"]

    @property
    def asks_again(self) -> bool:
        """Whether all that stands against it is a value beyond what is possible."""
        errors = [error for each in self.errors.as_data().values() for error in each]
        return self.may_keep and bool(errors) and all(error.code == BEYOND for error in errors)

    @property
    def kept_after_yes(self) -> bool:
        return self.asks_again and bool(self.data.get(self.add_prefix("yes")))

    @property
    def given(self) -> dict[str, Any]:
        """The values that were typed, in the units of `compute`."""
        return {
            name: value.value if isinstance(value, Measure) else value
            for name, value in self.cleaned_data.items()
            if name != "yes" and value not in (None, "")
        }

    @property
    def typed(self) -> dict[str, Any]:
        """As typed, with units; also what lay beyond the possible and is kept after a yes."""
        return {name: self._as_typed(name) for name in self.fields if name != "yes" and self._has(name)}

    def _has(self, name: str) -> bool:
        known = self.cleaned_data.get(name) or self[name].value()
        return bool(str(known or "").strip())

    def _as_typed(self, name: str) -> dict[str, Any]:
        field, raw = self.fields[name], self[name].value()
        said = {"label": getattr(field, "name", "") or str(field.label)}
        if isinstance(field, MeasureField):
            known = self.cleaned_data.get(name)
            return said | (known if isinstance(known, Measure) else field.measure(str(raw))).as_data()
        if isinstance(field, forms.ChoiceField):
            words = dict(cast("Iterable[tuple[Any, Any]]", field.choices)).get(raw, raw)
            return said | {"typed": str(raw), "words": str(words)}
        value = self.cleaned_data.get(name, raw)
        return said | {"typed": str(value)} | ({"value": value} if isinstance(value, int) else {})
