from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def page_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form whose proof of origin has run out: say so and how to go on; nothing was changed."""
    return render(request, "403_csrf.html", {"reason": reason}, status=403)
