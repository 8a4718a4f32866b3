"""What a line of the log says of a request besides its fault: who sent it, and where to.

And what it never says: the secret of a private link, whichever part of the house writes the line.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Mapping
from typing import Any

HIDDEN = "(hidden)"
# The door of the customers' pages: what follows is a secret, or was meant to be one.
_DOOR = re.compile(r"(?i)(/yours/)(?!(?:offers|changes|handovers|photos)/)[^\s\"'<>]+")
# A secret by itself, as secrets.token_urlsafe(32) writes it: a name of the program has no such mixture.
_SECRET = re.compile(r"(?<![\w-])(?=[\w-]*[A-Z])(?=[\w-]*[a-z])(?=[\w-]*[0-9])[A-Za-z0-9_-]{43}(?![\w-])")


def without_secrets(line: str) -> str:
    """
    >>> without_secrets("GET /yours/h3-Kq/ HTTP/1.1")
    'GET /yours/(hidden) HTTP/1.1'
    >>> without_secrets("GET /yours/offers/2/ HTTP/1.1"), without_secrets("GET /yours/ HTTP/1.1")
    ('GET /yours/offers/2/ HTTP/1.1', 'GET /yours/ HTTP/1.1')
    """
    return _SECRET.sub(HIDDEN, _DOOR.sub(rf"\1{HIDDEN}", line))


class WithoutSecrets(logging.Formatter):
    """The last look at a whole line, traces and all."""

    def format(self, record: logging.LogRecord) -> str:
        return without_secrets(super().format(record))


def hide_secrets() -> None:
    """From here on no record of this process holds one: web server, framework and worker log alike."""
    made_before = logging.getLogRecordFactory()
    if getattr(made_before, "hides_secrets", False):
        return

    def made(*args: Any, **kwargs: Any) -> logging.LogRecord:
        record = made_before(*args, **kwargs)
        record.msg, record.args = _plainly(record.msg), _each_plainly(record.args)
        return record

    made.hides_secrets = True  # type: ignore[attr-defined]
    logging.setLogRecordFactory(made)


def _each_plainly(given: Any) -> Any:
    """In the shape it came in: a server's own formatter takes its arguments apart."""
    if isinstance(given, tuple):
        return tuple(map(_plainly, given))
    if isinstance(given, Mapping):
        return {name: _plainly(value) for name, value in given.items()}
    return given


def _plainly(given: Any) -> Any:
    return without_secrets(given) if isinstance(given, str) else given


def tell_who(record: logging.LogRecord) -> bool:
    """A filter: end the line of a refused request with its person; keep traces for faults of our own.

    What is refused is no fault of ours: one line tells all, where the trace would be forty.
    """
    request = getattr(record, "request", None)
    if request is None or getattr(record, "told_who", False):
        return True
    if getattr(record, "status_code", 500) < 500:
        record.exc_info = record.exc_text = None
    sent_to = ""
    if record.name.startswith("django.security"):
        sent_to = f" {request.method} {_plain(request.path)}"
    # Only someone who is known already: a line of the log must not ask the database.
    person = getattr(request, "_cached_user", None)
    tablet = getattr(request, "tablet", None)
    who = f"person {getattr(person, 'pk', None) or '-'}, tablet {getattr(tablet, 'pk', None) or '-'}"
    record.msg = f"{record.getMessage()}{sent_to} ({who})"
    record.args = ()
    record.told_who = True
    return True


def _plain(path: str) -> str:
    return path[:200].encode("unicode_escape").decode("ascii")
