"""Answers for what no page was made for."""

from __future__ import annotations

from django.conf import settings
from django.core.exceptions import RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def page_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form whose proof of origin has run out: say so and how to go on; nothing was changed."""
    return render(request, "403_csrf.html", {"reason": reason}, status=403)


def not_understood(request: HttpRequest, exception: Exception) -> HttpResponse:
    """What cannot be read at all; if only because there is too much of it, then how much may be sent."""
    words = _too_much(exception)
    template = "413.html" if words else "400.html"
    # Without the request: to say who is here, a page would read once more what just could not be read.
    return render(None, template, {"words": words}, status=413 if words else 400)


def _too_much(exception: Exception) -> str:
    if isinstance(exception, RequestDataTooBig):
        return f"All that is typed on one page may be {settings.DATA_UPLOAD_MAX_MEMORY_SIZE / 1e6:g} MB long."
    if isinstance(exception, TooManyFilesSent):
        return (
            f"At most {settings.DATA_UPLOAD_MAX_NUMBER_FILES} files can be sent at once; send them in turns."
        )
    if isinstance(exception, TooManyFieldsSent):
        return f"At most {settings.DATA_UPLOAD_MAX_NUMBER_FIELDS:,} fields can be sent at once."
    return ""
