"""The office's pages of offers: all versions of an instrument, one that was sent, and what waits."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_POST, require_safe

from shopflow.common import clock
from shopflow.common.mail import nobody_got
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors import current_findings, instrument_or_404
from shopflow.offers import offer_paper
from shopflow.offers.forms.offers import DepositForm, NewOfferForm, PaperYesForm, WhyForm
from shopflow.offers.models import Offer
from shopflow.offers.selectors import offers as selectors
from shopflow.offers.selectors.terms import the_terms
from shopflow.offers.services import approving, drafting
from shopflow.offers.services import offers as services
from shopflow.offers.services.promising import suggested_promise
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.workshop.forms.instrument import PromiseForm

from .papers import as_file


@only(Deed.OFFERS)
@require_safe
def waiting(request: HttpRequest) -> HttpResponse:
    return render(request, "offers/waiting.html", {"overview": selectors.overview()})


@only(Deed.OFFERS)
@require_safe
def offers(request: HttpRequest, number: str) -> HttpResponse:
    return _list(request, instrument_or_404(number))


@only(Deed.OFFERS)
@require_POST
def new(request: HttpRequest, number: str) -> HttpResponse:
    """A draft of the ways that were ticked; the same form sent again leads to the same draft."""
    instrument = instrument_or_404(number)
    form = NewOfferForm(request.POST, scopes=selectors.scopes_of(instrument))
    if not form.is_valid():
        return _list(request, instrument, form=form)
    typed = form.cleaned_data
    try:
        made = drafting.draft(
            instrument=instrument,
            levels=typed["levels"],
            scopes=list(typed.get("scopes") or []),
            by=me(request),
            key=typed["key"],
        )
    except Refused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, refused.message)
        return _list(request, instrument, form=form)
    return redirect("offers:offer", instrument.number, made.version)


@only(Deed.OFFERS)
@require_POST
def copy(request: HttpRequest, number: str, version: int) -> HttpResponse:
    """A new version to write, beside this one."""
    offer = _offer(number, version)
    key = request.POST.get("key", "")[:64]
    made = services.copy_as_draft(offer=offer, by=me(request), key=key)
    return redirect("offers:offer", offer.instrument.number, made.version)


@only(Deed.OFFERS)
@require_POST
def end(request: HttpRequest, number: str, version: int, button: str) -> HttpResponse:
    """Withdraw it, or write down that the customer declined."""
    offer = _offer(number, version)
    deeds: dict[str, tuple[Callable[..., None], str]] = {
        "withdraw": (services.withdraw, "is withdrawn"),
        "decline": (services.decline, "is noted as declined"),
    }
    if button not in deeds:
        raise Http404("There is no such button.")
    form, (deed, words) = WhyForm(request.POST), deeds[button]
    if not form.is_valid():
        return sent_page(request, offer, **{f"{button}_form": form})
    try:
        deed(offer=offer, by=me(request), why=form.cleaned_data["why"])
    except Refused as refused:
        return sent_page(request, _offer(number, version), refused=refused.message, status=refused.status)
    messages.success(request, f"Version {version} {words}.")
    return redirect("offers:offers", offer.instrument.number)


@only(Deed.OFFERS)
@require_POST
def deposit(request: HttpRequest, number: str, version: int) -> HttpResponse:
    offer, form = _offer(number, version), DepositForm(request.POST)
    if not form.is_valid():
        return sent_page(request, offer, deposit_form=form)
    try:
        services.note_deposit(offer=offer, on=form.cleaned_data["on"], by=me(request))
    except Refused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, refused.message)
        return sent_page(request, offer, deposit_form=form)
    messages.success(request, "The deposit is noted.")
    return redirect("offers:offer", offer.instrument.number, version)


@only(Deed.OFFERS)
@require_POST
def paper_yes(request: HttpRequest, number: str, version: int) -> HttpResponse:
    """A yes that came on paper."""
    offer = _offer(number, version)
    form = PaperYesForm(request.POST, options=list(offer.options.all()))
    if not form.is_valid():
        return sent_page(request, offer, yes_form=form)
    typed = form.cleaned_data
    try:
        approving.enter_approval(
            offer=offer,
            option_id=int(typed["option"]),
            typed_name=typed["typed_name"],
            fingerprint=offer.fingerprint,
            signed_on=typed["signed_on"],
            by=me(request),
        )
    except Refused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, refused.message)
        return sent_page(request, _offer(number, version), yes_form=form, status=refused.status)
    messages.success(request, "The yes is entered, and the work is laid out.")
    return redirect("offers:offer", offer.instrument.number, version)


@only(Deed.OFFERS)
@require_safe
def paper(request: HttpRequest, number: str, version: int) -> HttpResponse:
    offer = _offer(number, version)
    if not offer.fingerprint:
        raise Http404("It has not been sent yet.")
    return as_file(offer_paper.paper_of(offer), offer_paper.name_of(offer))


def sent_page(
    request: HttpRequest, offer: Offer, *, refused: str = "", status: int = 0, **forms: Any
) -> HttpResponse:
    """A version that is no draft any more: as the customer has it, with the office's figures beside it."""
    options = list(offer.options.all())
    context: dict[str, Any] = {
        "instrument": offer.instrument,
        "offer": offer,
        "words": offer.frozen,
        "sign": the_terms().currency,
        "figures": selectors.figures_of(options),
        "refused": refused,
        "last_seen": selectors.last_seen(offer.instrument),
        "fresh_key": secrets.token_urlsafe(16),
        "today": clock.today(),
        "not_mailed": nobody_got("what was agreed"),
        "withdraw_form": WhyForm(auto_id="withdraw_%s"),
        "decline_form": WhyForm(auto_id="decline_%s"),
        "deposit_form": DepositForm(initial={"on": clock.today()}, auto_id="deposit_%s"),
        "yes_form": PaperYesForm(options=options, initial={"signed_on": clock.today()}, auto_id="yes_%s"),
    }
    suggestion = suggested_promise(offer)
    if suggestion is not None:
        initial = {"promised_on": suggestion, "version": offer.instrument.version}
        context |= {"suggestion": suggestion, "promise_form": PromiseForm(initial=initial)}
    answer = status or (422 if forms else 200)
    return render(request, "offers/sent.html", context | forms, status=answer)


def _offer(number: str, version: int) -> Offer:
    return selectors.offer_or_404(instrument_or_404(number), version)


def _list(request: HttpRequest, instrument: Instrument, *, form: NewOfferForm | None = None) -> HttpResponse:
    scopes = selectors.scopes_of(instrument)
    usual = {"key": secrets.token_urlsafe(16), "levels": ["keep-going", "good-order", "rebuilt"]}
    context = {
        "instrument": instrument,
        "offers": selectors.offers_of(instrument),
        "form": form or NewOfferForm(scopes=scopes, initial=usual),
        "findings": len(current_findings(instrument)),
        "sign": the_terms().currency,
        "survey_url": _survey(instrument),
        "today": clock.today(),
    }
    return render(request, "offers/offers.html", context, status=422 if form else 200)


def _survey(instrument: Instrument) -> str:
    """Empty in a house without surveys."""
    try:
        return reverse("instruments:survey", args=[instrument.number])
    except NoReverseMatch:
        return ""
