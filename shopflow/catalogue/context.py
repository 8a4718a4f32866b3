"""What every page shows of the shop: its name."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from .selectors import the_shop


def shop(request: HttpRequest) -> dict[str, Any]:
    """The row the middleware has read already; read here only for a page that failed before that."""
    return {"shop": getattr(request, "shop", None) or the_shop()}
