"""Why the shop's set-up cannot be changed that way, in words for the one who tried."""

from __future__ import annotations


class Refused(Exception):
    """Nothing was changed. `field` names the field of a form that the words belong to, where there is one."""

    def __init__(self, message: str, *, field: str | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.field = field
