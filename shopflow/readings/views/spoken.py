"""What was just kept, in the one status line of a page for fast entry: a notice would push the form down."""

from __future__ import annotations

from typing import Any

from django.contrib.messages import get_messages
from django.http import HttpRequest


def spoken(request: HttpRequest) -> dict[str, Any]:
    """The waiting messages as one line, so that the frame of the page has none to show."""
    words = " ".join(str(message) for message in get_messages(request))
    return {"spoken": words, "messages": []}
