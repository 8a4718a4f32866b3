"""What a line of the log says of a request besides its fault: who sent it, and where to."""

from __future__ import annotations

import logging


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
