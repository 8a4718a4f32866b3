"""Writing an offer: its words, its options, what each of them does; then a look at it, and out it goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shopflow.catalogue.selectors import the_shop
from shopflow.common.mail import Went, what_to_do
from shopflow.common.refusals import Refused
from shopflow.instruments.selectors import instrument_or_404
from shopflow.offers import letters, offer_paper, post
from shopflow.offers.forms.offers import (
    AddOptionForm,
    DraftForm,
    EditionForm,
    ObjectionForm,
    OptionForm,
    SendForm,
)
from shopflow.offers.models import Offer, Option, Scope
from shopflow.offers.selectors import offers as selectors
from shopflow.offers.selectors.objections import objections_to, questions_about
from shopflow.offers.selectors.terms import the_terms
from shopflow.offers.services import drafting, freezing, objecting, sending
from shopflow.offers.services import offers as services
from shopflow.offers.services.refusals import DraftChanged
from shopflow.offers.services.wording import as_it_stands, save_draft
from shopflow.people.access import Deed
from shopflow.people.door import me, only

from .links import address_of
from .offers import sent_page


@only(Deed.OFFERS)
@require_http_methods(["GET", "HEAD", "POST"])
def offer(request: HttpRequest, number: str, version: int) -> HttpResponse:
    """A draft to write; or, once it is out, the version as its customer has it."""
    row = _offer(number, version)
    if row.state != Offer.State.DRAFT:
        if request.method == "POST":
            words = f"Version {version} is {row.get_state_display()}: make a new version of it to change it."
            return sent_page(request, row, refused=words, status=409)
        return sent_page(request, row)
    if request.method != "POST":
        return _page(request, row)
    return _save(request, row)


@only(Deed.OFFERS)
@require_POST
def add_option(request: HttpRequest, number: str, version: int) -> HttpResponse:
    row, form = _offer(number, version), AddOptionForm(request.POST)
    if not form.is_valid():
        return _page(request, row, refused="Choose which way to go is added.", status=422)
    way = form.cleaned_data["way"]
    scope = _scope(row, way)
    if scope is None and way not in Option.Level.values:
        return _page(request, row, refused="Choose which way to go is added.", status=422)
    try:
        edition = form.cleaned_data["edition"]
        made = drafting.add_option(offer=row, level=way, scope=scope, seen_edition=edition, by=me(request))
    except Refused as refused:
        return _page(request, _offer(number, version), refused=refused.message, status=refused.status)
    messages.success(request, f"“{made.name}” is added.")
    return redirect("offers:offer", row.instrument.number, version)


@only(Deed.OFFERS)
@require_POST
def take_out(request: HttpRequest, number: str, version: int, pk: int) -> HttpResponse:
    row = _offer(number, version)
    option = get_object_or_404(Option, pk=pk, offer=row)
    form = EditionForm(request.POST)
    edition = form.cleaned_data["edition"] if form.is_valid() else 0
    try:
        drafting.take_out_option(offer=row, option=option, seen_edition=edition, by=me(request))
    except Refused as refused:
        return _page(request, _offer(number, version), refused=refused.message, status=refused.status)
    messages.success(request, f"“{option.name}” is taken out.")
    return redirect("offers:offer", row.instrument.number, version)


@only(Deed.OFFERS)
@require_POST
def answer_objection(request: HttpRequest, number: str, version: int, pk: int) -> HttpResponse:
    """Why an option is sent as it is, against what a rebuilder would say."""
    row = _offer(number, version)
    option = get_object_or_404(Option, pk=pk, offer=row)
    form = ObjectionForm(request.POST)
    if not form.is_valid():
        return _page(request, row, refused="Say why it stays as it is, in a few words.", status=422)
    typed = form.cleaned_data
    try:
        objecting.answer_objection(
            offer=row,
            option=option,
            words=typed["words"],
            reason=typed["reason"],
            seen_edition=typed["edition"],
            by=me(request),
        )
    except Refused as refused:
        return _page(request, _offer(number, version), refused=refused.message, status=refused.status)
    messages.success(request, "Your reason is kept with this version; only the office sees it.")
    return redirect("offers:offer", row.instrument.number, version)


@only(Deed.OFFERS)
@require_safe
def preview(request: HttpRequest, number: str, version: int) -> HttpResponse:
    """Exactly what the customer will see, and the form that sends it."""
    row = _offer(number, version)
    if row.state != Offer.State.DRAFT:
        return redirect("offers:offer", row.instrument.number, version)
    return _preview(request, row)


@only(Deed.OFFERS)
@require_POST
def send(request: HttpRequest, number: str, version: int) -> HttpResponse:
    """Answers with a page and no redirect: the secret of the link is shown once and kept nowhere."""
    row, form = _offer(number, version), SendForm(request.POST)
    if row.state == Offer.State.SENT:
        messages.info(
            request, "It was sent already, and its link shown once. Make another link if it is lost."
        )
        return redirect("offers:offer", row.instrument.number, version)
    if not form.is_valid():
        return _preview(request, row, form=form)
    typed = form.cleaned_data
    try:
        out = sending.send(
            offer=row, seen_edition=typed["edition"], by=me(request), for_whom=typed["for_whom"]
        )
    except Refused as refused:
        return _preview(request, row, form=form, refused=refused.message, status=refused.status)
    address = address_of(request, out.fresh.token)
    went = _mailed(out, address, typed["mail_to"])
    context = {
        "instrument": row.instrument,
        "offer": out.offer,
        "address": address,
        "went": went,
        "mailed": what_to_do(went, typed["mail_to"]),
    }
    return render(request, "offers/just_sent.html", context)


def _mailed(out: sending.Sent, address: str, to: str) -> Went | None:
    if not to:
        return None
    paper = offer_paper.paper_of(out.offer)
    letter = letters.with_offer(
        offer=out.offer, link=out.fresh.link, address=address, to=to, shop=the_shop(), paper=paper
    )
    return post.send(letter)


def _save(request: HttpRequest, row: Offer) -> HttpResponse:
    form, options = _forms(row, request.POST)
    if not all([form.is_valid(), *(one.is_valid() for one in options)]):
        return _page(request, row, forms=(form, options), status=422)
    wanted = form.wanted({one.option.pk: one.wanted() for one in options})
    try:
        save_draft(offer=row, wanted=wanted, seen_edition=form.cleaned_data["edition"], by=me(request))
    except DraftChanged as clash:
        return _changed_meanwhile(request, clash, wanted, form, options)
    except Refused as refused:
        _say_where(refused, form, options)
        return _page(request, row, forms=(form, options), status=refused.status)
    if request.POST.get("then") == "look":
        return redirect("offers:offer-preview", row.instrument.number, row.version)
    messages.success(request, "The draft is saved, and the plan is asked for its weeks.")
    return redirect("offers:offer", row.instrument.number, row.version)


def _changed_meanwhile(
    request: HttpRequest, clash: DraftChanged, wanted: Any, form: DraftForm, options: Sequence[OptionForm]
) -> HttpResponse:
    """Both versions; what was typed stays in the form, and is saved over the other only when sent again."""
    now = _offer(clash.offer.instrument.number, clash.offer.version)
    if now.state != Offer.State.DRAFT:
        return sent_page(request, now, refused=clash.message, status=409)
    differing = differences(as_it_stands(now), wanted)
    if set(wanted.options) != {one.pk for one in now.options.all()}:
        return _page(request, now, refused=clash.message, status=409, differing=differing)
    form.data = form.data.copy()  # type: ignore[attr-defined]
    form.data["edition"] = now.edition  # type: ignore[index]
    return _page(request, now, forms=(form, options), refused=clash.message, status=409, differing=differing)


def differences(there: Any, wanted: Any) -> list[tuple[str, str, str]]:
    """What stands there now beside what was typed, wherever the two differ."""
    rows = [
        ("To the customer", there.words, wanted.words),
        ("About value", there.value_words, wanted.value_words),
        ("Prices hold until", str(there.holds_until), str(wanted.holds_until)),
        ("Deposit", str(there.deposit), str(wanted.deposit)),
    ]
    for pk, now in there.options.items():
        typed = wanted.options.get(pk)
        if typed is not None:
            rows += [
                (f"{now.name}: name", now.name, typed.name),
                (f"{now.name}: words", now.words, typed.words),
                (f"{now.name}: another price", str(now.price or "–"), str(typed.price or "–")),
                (f"{now.name}: remedies", _chosen(now), _chosen(typed)),
            ]
    return [row for row in rows if row[1] != row[2]]


def _chosen(option: Any) -> str:
    return f"{sum(1 for one in option.remedies.values() if one)} put right"


def _say_where(refused: Refused, form: DraftForm, options: Sequence[OptionForm]) -> None:
    """Put the words beside the field that they are about."""
    for one in options:
        prefix, _, name = (refused.field or "").partition("-")
        if prefix == one.prefix and name in one.fields:
            one.add_error(name, refused.message)
            return
    form.add_error(refused.field if refused.field in form.fields else None, refused.message)


def _forms(row: Offer, data: Any = None) -> tuple[DraftForm, list[OptionForm]]:
    options = list(row.options.prefetch_related("findings__remedy", "works__operation__department"))
    bench, sign = drafting.Bench.of(row.instrument), the_terms().currency
    forms = [OptionForm(data, option=one, bench=bench, sign=sign) for one in options]
    return DraftForm(data, offer=row, options=options), forms


def _page(
    request: HttpRequest,
    row: Offer,
    *,
    forms: tuple[DraftForm, Sequence[OptionForm]] | None = None,
    refused: str = "",
    status: int = 200,
    differing: Sequence[tuple[str, str, str]] = (),
) -> HttpResponse:
    if row.state != Offer.State.DRAFT:
        return sent_page(request, row, refused=refused, status=status)
    form, options = forms or _forms(row)
    known = options[0].bench.reckoner if options else None
    objected = objections_to(row, known) if known else []
    figures = selectors.figures_of([one.option for one in options])
    terms = the_terms()
    context = {
        "instrument": row.instrument,
        "offer": row,
        "form": form,
        "options": [(freezing.letter_of(place), one, figures[place]) for place, one in enumerate(options)],
        "objected": objected,
        "to_be_asked": [
            (one.option.name, words)
            for one in options
            for words in questions_about(one.option, one.bench.reckoner.knowledge)
        ],
        "ways": _ways(row, len(options)),
        "refused": refused,
        "differing": differing,
        "sign": terms.currency,
        "asking": any(one.is_asked_of_the_plan for one in figures),
    }
    return render(request, "offers/draft.html", context, status=status)


def _ways(row: Offer, there: int) -> list[tuple[str, str]]:
    """What may be added to the options that are there."""
    if there >= services.MOST_OPTIONS:
        return []
    scopes = [(f"scope-{one.pk}", f"Scope: {one}") for one in selectors.scopes_of(row.instrument)]
    return [*Option.Level.choices, *scopes]


def _scope(row: Offer, way: str) -> Scope | None:
    name, _, pk = way.partition("-")
    if name != "scope" or not pk.isascii() or not pk.isdecimal() or len(pk) > 18:
        return None
    return Scope.objects.filter(pk=int(pk), instrument=row.instrument).first()


def _preview(
    request: HttpRequest, row: Offer, *, form: SendForm | None = None, refused: str = "", status: int = 0
) -> HttpResponse:
    if row.state != Offer.State.DRAFT:
        raise Http404("It is no draft any more.")
    customer = row.instrument.customer
    usual = {
        "edition": row.edition,
        "for_whom": customer.name if customer else "",
        "mail_to": customer.email if customer else "",
    }
    context = {
        "instrument": row.instrument,
        "offer": row,
        "words": freezing.words_of(row),
        "form": form or SendForm(initial=usual),
        "refused": refused,
    }
    return render(request, "offers/preview.html", context, status=status or (422 if form else 200))


def _offer(number: str, version: int) -> Offer:
    return selectors.offer_or_404(instrument_or_404(number), version)
