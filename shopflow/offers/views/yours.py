"""The customer's first page, and the door to it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shopflow.customers.models import PrivateLink
from shopflow.customers.services.links import note_visit
from shopflow.offers.door import for_customer, let_in
from shopflow.offers.selectors.yours import customers_page


@require_safe
def door(request: HttpRequest, token: str) -> HttpResponse:
    """However often and by whomever it is opened, a GET approves nothing and uses nothing up."""
    return let_in(request, token.removesuffix("/"))


@for_customer
@require_safe
def yours(request: HttpRequest, link: PrivateLink) -> HttpResponse:
    note_visit(link)
    return render(request, "offers/yours.html", {"page": customers_page(link.instrument)})
