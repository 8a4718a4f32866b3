"""Forms that know what their writer saw, so that a second writer is told and not overwritten."""

from __future__ import annotations

import hashlib
import json
from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import Model

from shopflow.common.text import TextField, on_one_line

SEEN = "seen"


class LineField(TextField):
    """Words of a person that stand on one line, as a name does."""

    def to_python(self, value: Any) -> str:
        return on_one_line(super().to_python(value))


class SetUpForm(forms.ModelForm):
    """A form over one row; it carries a fingerprint of the row as it was when the page was drawn."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.as_it_is = {name: self.get_initial_for_field(field, name) for name, field in self.fields.items()}

    @property
    def fingerprint(self) -> str:
        """What the row says now, in one short word for the page to carry."""
        said = json.dumps({name: _plain(value) for name, value in self.as_it_is.items()}, sort_keys=True)
        return hashlib.sha256(said.encode()).hexdigest()[:32]

    @property
    def moved_on(self) -> bool:
        """Whether someone else changed the row since this page was drawn."""
        if not self.is_bound or self.instance._state.adding:
            return False
        return self.data.get(SEEN) != self.fingerprint

    @property
    def both_versions(self) -> list[tuple[str, str, str]]:
        """Label, what it says now and what was typed, wherever the two differ."""
        rows = []
        for name, now in self.as_it_is.items():
            bound = self[name]
            rows.append((str(bound.label), self._said(name, now), self._said(name, bound.value())))
        return [row for row in rows if row[1] != row[2]]

    def _said(self, name: str, value: Any) -> str:
        field = self.fields[name]
        plain = _plain(value)
        if isinstance(field, forms.ChoiceField):
            known: dict[Any, str] = dict(_flat(field.choices))
            chosen = plain if isinstance(plain, list) else [plain]
            return ", ".join(known.get(one) or str(one) for one in chosen if one) or "nothing"
        if isinstance(field, forms.BooleanField):
            return "yes" if plain in {"True", "on"} else "no"
        return str(field.widget.format_value(value) or "") or "nothing"


def limit(field: forms.Field, *, least: Decimal | int, most: Decimal | int) -> None:
    """Hold a number between two others, here and in the browser."""
    field.validators += [MinValueValidator(least), MaxValueValidator(most)]
    field.widget.attrs |= {"min": str(least), "max": str(most)}


def _flat(choices: Any) -> list[tuple[str, str]]:
    """Value and label of every choice, groups opened."""
    rows: list[tuple[str, str]] = []
    for value, label in choices:
        rows += _flat(label) if isinstance(label, list | tuple) else [(str(value), str(label))]
    return rows


def _plain(value: Any) -> Any:
    if isinstance(value, list | tuple):
        return sorted(str(_plain(one)) for one in value)
    if isinstance(value, Model):
        return str(value.pk)
    return "" if value is None else str(value)
