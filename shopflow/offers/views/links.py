"""The office's page of private links: make one, send it, close it, see when it was last opened."""

from __future__ import annotations

import secrets

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from shopflow.catalogue.selectors import the_shop
from shopflow.common.mail import what_to_do
from shopflow.common.refusals import Refused
from shopflow.customers.models import PrivateLink
from shopflow.customers.services import links as services
from shopflow.instruments.models import Instrument
from shopflow.offers import letters, post
from shopflow.offers.forms.links import LinkForm
from shopflow.offers.selectors.links import links_of
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.workshop.selectors.instrument import instrument_or_404


@only(Deed.OFFERS)
@require_safe
def page(request: HttpRequest, number: str) -> HttpResponse:
    return _page(request, instrument_or_404(number))


@only(Deed.OFFERS)
@require_POST
def make(request: HttpRequest, number: str) -> HttpResponse:
    """Answers with the page itself and no redirect: the secret is shown once, and kept nowhere until then."""
    instrument = instrument_or_404(number)
    form = LinkForm(request.POST)
    if not form.is_valid():
        return _page(request, instrument, form=form)
    try:
        fresh = services.make(instrument=instrument, by=me(request), **form.facts())
    except services.MadeAlready as refused:
        messages.info(request, refused.message)
        return redirect("offers:links", instrument.number)
    except Refused as refused:
        form.add_error(refused.field, refused.message)
        return _page(request, instrument, form=form)
    address = address_of(request, fresh.token)
    return _page(request, instrument, address=address, said=_mailed(form, instrument, fresh.link, address))


@only(Deed.OFFERS)
@require_POST
def revoke(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    instrument = instrument_or_404(number)
    link = get_object_or_404(PrivateLink, pk=pk, instrument=instrument)
    services.revoke(link=link, by=me(request))
    messages.success(request, "The link is closed. Whoever tries it finds nothing.")
    return redirect("offers:links", instrument.number)


def address_of(request: HttpRequest, token: str) -> str:
    """The whole address of a link, as it stands in a letter."""
    return request.build_absolute_uri(reverse("offers:door", args=[token]) + "/")


def _mailed(form: LinkForm, instrument: Instrument, link: PrivateLink, address: str) -> str:
    to = form.cleaned_data["mail_to"]
    if not to:
        return what_to_do(None, to)
    letter = letters.with_link(instrument=instrument, link=link, address=address, to=to, shop=the_shop())
    return what_to_do(post.send(letter), to)


def _page(
    request: HttpRequest,
    instrument: Instrument,
    *,
    form: LinkForm | None = None,
    address: str = "",
    said: str = "",
) -> HttpResponse:
    customer = instrument.customer
    usual = {
        "key": secrets.token_urlsafe(16),
        "for_whom": customer.name if customer else "",
        "mail_to": customer.email if customer else "",
    }
    context = {
        "instrument": instrument,
        "lines": links_of(instrument),
        "form": form or LinkForm(initial=usual),
        "address": address,
        "said": said,
    }
    return render(request, "offers/links.html", context, status=422 if form else 200)
