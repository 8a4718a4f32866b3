"""The one error that every computation raises when what it was given makes no sense."""

from __future__ import annotations


class ComputeError(ValueError):
    """Says which field was wrong, what was given and what is allowed.

    >>> raise ComputeError("hours", -3, "more than 0 and at most 10,000 hours")
    Traceback (most recent call last):
    ...
    shopflow.compute.errors.ComputeError: hours: got -3; allowed is more than 0 and at most 10,000 hours
    """

    def __init__(self, field: str, given: object, allowed: str) -> None:
        self.field = field
        self.given = given
        self.allowed = allowed
        super().__init__(f"{field}: got {_short(given)}; allowed is {allowed}")


def _short(given: object) -> str:
    text = str(given) if isinstance(given, (int, float)) else repr(given)
    return text if len(text) <= 80 else f"{text[:77]}..."
