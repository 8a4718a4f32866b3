"""Why a deed was refused, in words for the person who tried it."""

from __future__ import annotations

from typing import Any


class Refused(Exception):
    """The deed goes against a rule of the shop; nothing was changed. Answered with 422.

    `field` names the field of a form that the words belong to, where there is one; `facts` go into the
    answer that a device reads.
    """

    status = 422

    def __init__(self, message: str, *, field: str | None = None, **facts: Any) -> None:
        super().__init__(message)
        self.message = message
        self.field = field
        self.facts = facts

    def answer(self) -> dict[str, Any]:
        return {"refused": self.message, **self.facts}
