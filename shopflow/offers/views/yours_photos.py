"""Photos for a customer: only those that were chosen, or that stand in what the customer was given."""

from __future__ import annotations

import uuid

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from shopflow.customers.models import PrivateLink
from shopflow.offers.door import for_customer, nothing_here
from shopflow.offers.selectors.shown import may_be_shown
from shopflow.photos import files


@for_customer
@require_safe
def photo(request: HttpRequest, link: PrivateLink, key: uuid.UUID, side: int) -> HttpResponse:
    """One of the shop's own copies; whatever is not for this customer is as if it were not there."""
    if side not in files.SIDES or not may_be_shown(key, link.instrument):
        return nothing_here(request)
    try:
        content = files.copy(key, side).read_bytes()
    except FileNotFoundError:
        return nothing_here(request)
    return HttpResponse(
        content,
        content_type="image/jpeg",
        headers={
            "Content-Disposition": 'inline; filename="photo.jpg"',
            "Content-Encoding": "identity",
            "Content-Security-Policy": "default-src 'none'; sandbox; frame-ancestors 'none'",
        },
    )
