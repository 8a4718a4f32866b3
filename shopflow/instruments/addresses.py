"""How things are written in an address."""

from __future__ import annotations

from django.urls import register_converter


class InstrumentNumber:
    """An instrument's number as on its tags; whatever cannot be one is a page that does not exist."""

    regex = r"[A-Za-z0-9][A-Za-z0-9\-]{0,11}"

    def to_python(self, value: str) -> str:
        return value

    def to_url(self, value: str) -> str:
        return value


register_converter(InstrumentNumber, "number")
