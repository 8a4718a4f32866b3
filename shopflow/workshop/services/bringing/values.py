"""What stands in one cell: a word, a number, hours, an address. Each reader says what is allowed."""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal, InvalidOperation
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import EmailValidator
from django.db.models import Model

from shopflow.catalogue.models import Kind
from shopflow.common.text import on_one_line
from shopflow.customers.models import Customer
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Task

from .columns import named

_WHOLE = re.compile(r"(\d{1,6})(?:[.,]0+)?")
_DECIMAL = re.compile(r"\d{1,6}(?:[.,]\d{1,2}(?:0*))?")
_KINDS = {named(word): Kind.UPRIGHT for word in ("upright", "upright piano", "u", "vertical")} | {
    named(word): Kind.GRAND for word in ("grand", "grand piano", "g")
}
_FIELDS: dict[str, tuple[type[Model], str]] = {
    "number": (Instrument, "number"),
    "maker": (Instrument, "maker"),
    "serial": (Instrument, "serial"),
    "year": (Instrument, "year_built"),
    "size_cm": (Instrument, "size_cm"),
    "finish": (Instrument, "finish"),
    "alterations": (Instrument, "alterations"),
    "fragile": (Instrument, "fragile"),
    "place": (Instrument, "place"),
    "customer": (Customer, "name"),
    "customer_email": (Customer, "email"),
    "customer_phone": (Customer, "phone"),
    "task": (Task, "name"),
    "note": (Task, "note"),
    "hours_likely": (Task, "hours_likely"),
}
_RUNS_ON = {"alterations", "fragile", "note"}


class NotAllowed(ValueError):
    """What stands in a cell cannot be; its text is what is allowed."""


def words(column: str, typed: str) -> str:
    """Words of at most the length that the model keeps; line breaks only where notes are kept."""
    text = typed if column in _RUNS_ON else on_one_line(typed)
    most = _field(column).max_length
    if len(text) > most:
        raise NotAllowed(f"at most {most} letters; this has {len(text)}")
    return text


def number(column: str, typed: str) -> str:
    """The number on the tag."""
    text = words(column, narrow(typed))
    try:
        _field(column).run_validators(text)
    except ValidationError as wrong:
        raise NotAllowed("letters, digits and hyphens, a letter or digit first") from wrong
    return text


def kind(column: str, typed: str) -> str:
    try:
        return _KINDS[named(typed)]
    except KeyError as unknown:
        raise NotAllowed("upright or grand") from unknown


def whole(column: str, typed: str) -> int:
    """A whole number between the model's bounds; spreadsheets may add .0 to it."""
    least, most = (validator.limit_value for validator in _field(column).validators[:2])
    found = _WHOLE.fullmatch(narrow(typed))
    if found is None or not least <= int(found[1]) <= most:
        raise NotAllowed(f"a whole number from {least} to {most}, without words")
    return int(found[1])


def hours(column: str, typed: str) -> Decimal:
    """Hours with a point or a comma.

    >>> hours("hours_likely", "4,5")
    Decimal('4.5')
    """
    text = narrow(typed)
    try:
        given = Decimal(text.replace(",", "."))
    except InvalidOperation:
        given = Decimal(-1)
    if not _DECIMAL.fullmatch(text) or not 0 <= given <= 1000:
        raise NotAllowed("hours from 0 to 1000 with at most two decimals, such as 4.5 or 4,5")
    return given


def email(column: str, typed: str) -> str:
    text = words(column, typed)
    try:
        EmailValidator()(text)
    except ValidationError as wrong:
        raise NotAllowed("one e-mail address, such as name@house.example") from wrong
    return text


def narrow(typed: str) -> str:
    """Letters and digits in their plain width, on one line.

    >>> narrow("１９０４")
    '1904'
    """
    return on_one_line(unicodedata.normalize("NFKC", typed)).strip()


def _field(column: str) -> Any:
    model, name = _FIELDS[column]
    return model._meta.get_field(name)


READERS = {
    "number": number,
    "kind": kind,
    "year": whole,
    "size_cm": whole,
    "customer_email": email,
    "hours_likely": hours,
}


def read(column: str, typed: str) -> Any:
    """What a cell of this column says; days and names of the shop's own things are read elsewhere."""
    return READERS.get(column, words)(column, typed)
