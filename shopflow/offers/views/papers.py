"""Papers as files: for the office, and for the customer who was let in."""

from __future__ import annotations

from pathlib import Path

from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from shopflow.customers.models import PrivateLink
from shopflow.offers import handover_paper
from shopflow.offers.change_paper import paper_of
from shopflow.offers.door import for_customer, nothing_here
from shopflow.offers.models import Handover
from shopflow.offers.selectors.changes import change_or_404, told_change
from shopflow.offers.selectors.handovers import given_or_404, handed_over_or_404
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.workshop.selectors.instrument import instrument_or_404


@only(Deed.OFFERS)
@require_safe
def change(request: HttpRequest, number: str, change_number: int) -> HttpResponse:
    row = change_or_404(instrument_or_404(number), change_number)
    if not row.fingerprint:
        raise Http404("It has not been put before the customer yet.")
    return as_file(paper_of(row), f"change-order-{row.instrument.number}-{row.number}.pdf")


@for_customer
@require_safe
def yours_change(request: HttpRequest, link: PrivateLink, change_number: int) -> HttpResponse:
    row = told_change(link.instrument, change_number)
    if row is None or not row.fingerprint:
        return nothing_here(request)
    return as_file(paper_of(row), f"change-order-{row.instrument.number}-{row.number}.pdf")


@only(Deed.HAND_OVER)
@require_safe
def handover(request: HttpRequest, number: str, report_number: int) -> HttpResponse:
    return _report(handed_over_or_404(instrument_or_404(number), report_number))


@for_customer
@require_safe
def yours_handover(request: HttpRequest, link: PrivateLink, report_number: int) -> HttpResponse:
    try:
        return _report(given_or_404(link.instrument, report_number))
    except Http404:
        return nothing_here(request)


def _report(row: Handover) -> HttpResponse:
    return as_file(handover_paper.paper_of(row), f"handover-{row.instrument.number}-{row.number}.pdf")


def as_file(paper: Path, name: str) -> HttpResponse:
    """Read whole: papers are small."""
    return HttpResponse(
        paper.read_bytes(),
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"', "Cache-Control": "private, no-store"},
    )
