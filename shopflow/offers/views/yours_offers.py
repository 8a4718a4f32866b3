"""An offer as its customer sees it: options, what each leaves, and one explicit act."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.customers.models import PrivateLink
from shopflow.offers import offer_paper
from shopflow.offers.door import for_customer, nothing_here
from shopflow.offers.forms.offers import YesForm
from shopflow.offers.models import Offer
from shopflow.offers.selectors.offers import told_offer, told_to_owner
from shopflow.offers.services import approving
from shopflow.offers.services.refusals import OtherVersion

from .papers import as_file


@for_customer
@require_http_methods(["GET", "HEAD", "POST"])
def offer(request: HttpRequest, link: PrivateLink, version: int) -> HttpResponse:
    """A GET shows and never approves; a POST with a typed name and the tick approves once."""
    row = told_offer(link.instrument, version)
    if row is None:
        return nothing_here(request)
    if request.method != "POST":
        return _page(request, row)
    form = YesForm(request.POST)
    if not form.is_valid():
        return _page(request, row, form=form, status=422)
    said = form.cleaned_data
    try:
        approving.approve(
            offer=row,
            option_id=int(said["option"]),
            typed_name=said["typed_name"],
            fingerprint=said["fingerprint"],
            link=link,
        )
    except OtherVersion as other:
        return _both_versions(request, row, other)
    except Refused as refused:
        now = told_offer(link.instrument, version) or row
        return _page(request, now, form=form, refused=refused.message, status=refused.status)
    return redirect("offers:yours-offer", version)


@for_customer
@require_safe
def paper(request: HttpRequest, link: PrivateLink, version: int) -> HttpResponse:
    row = told_offer(link.instrument, version)
    if row is None:
        return nothing_here(request)
    return as_file(offer_paper.paper_of(row), offer_paper.name_of(row))


def _both_versions(request: HttpRequest, row: Offer, other: OtherVersion) -> HttpResponse:
    """What was to be approved beside what stands now: nothing is approved unseen."""
    standing = other.standing
    context = {"offer": row, "words": row.frozen, "refused": other.message, "standing": standing}
    if standing is not None:
        context["standing_words"] = standing.frozen
    return render(request, "offers/yours_both_versions.html", context, status=409)


def _page(
    request: HttpRequest, row: Offer, *, form: YesForm | None = None, refused: str = "", status: int = 200
) -> HttpResponse:
    is_past = row.holds_until is not None and row.holds_until < clock.today()
    context: dict[str, Any] = {
        "offer": row,
        "words": row.frozen,
        "form": form,
        "refused": refused,
        "is_past": is_past,
        "may_approve": row.state == Offer.State.SENT and not is_past,
        "standing": _standing(row),
    }
    return render(request, "offers/yours_offer.html", context, status=status)


def _standing(row: Offer) -> Offer | None:
    """The version that took this one's place."""
    if row.state != Offer.State.REPLACED:
        return None
    later = Offer.objects.filter(told_to_owner(row.instrument), version__gt=row.version)
    return later.order_by("-version").defer("frozen").first()
