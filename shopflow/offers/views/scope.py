"""The Scope page: the budget moves, and what it buys follows at once."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe
from django.views.decorators.vary import vary_on_headers
from django_htmx.http import replace_url, trigger_client_event

from shopflow.common.htmx import wants_fragment
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.offers.forms.scope import WISH, ScopeForm, initial_of
from shopflow.offers.models import Scope
from shopflow.offers.selectors.scope import Asked, TooLittle, Weighing, Wishes, answer, asked
from shopflow.offers.services.scopes import keep_scope
from shopflow.offers.stairs import picture, suggested
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.workshop.selectors.instrument import instrument_or_404

MOST_KEPT = 12


@only(Deed.OFFERS)
@require_safe
@vary_on_headers("HX-Request")
def scope(request: HttpRequest, number: str) -> HttpResponse:
    """Budget and wishes stand in the address: it can be kept, sent to a colleague, and nothing is written."""
    instrument = instrument_or_404(number)
    weighing = Weighing.of(instrument)
    data = request.GET if "budget" in request.GET else None
    return _page(request, instrument, weighing, data)


@only(Deed.OFFERS)
@require_POST
def keep(request: HttpRequest, number: str) -> HttpResponse:
    instrument = instrument_or_404(number)
    weighing = Weighing.of(instrument)
    form = ScopeForm(request.POST, weighing=weighing, initial={})
    if not form.is_valid():
        return _page(request, instrument, weighing, request.POST)
    said = form.cleaned_data
    try:
        kept = keep_scope(
            instrument=instrument,
            budget=said["budget"],
            wishes=form.wishes,
            name=said["name"],
            by=me(request),
        )
    except Refused:
        return _page(request, instrument, weighing, request.POST)
    messages.success(
        request, f"Kept: {kept.name or 'scope'} for {weighing.terms.currency}{kept.budget:,.0f}."
    )
    return redirect(_address_of(kept, weighing))


def _page(
    request: HttpRequest, instrument: Instrument, weighing: Weighing, data: Mapping[str, Any] | None
) -> HttpResponse:
    kept = list(Scope.objects.filter(instrument=instrument).select_related("made_by")[:MOST_KEPT])
    form = _form(weighing, data, kept)
    context = {"instrument": instrument, "weighing": weighing, "form": form, "sign": weighing.terms.currency}
    if weighing.mendable and (not form.is_bound or form.is_valid()):
        context |= _weighed(form, weighing)
    wrong = (form.is_bound and not form.is_valid()) or context.get("trouble")
    template = "offers/_scope_answer.html" if wants_fragment(request) else "offers/scope.html"
    context["kept"] = [(one, _address_of(one, weighing)) for one in kept]
    response = render(request, template, context, status=422 if wrong else 200)
    return _spoken(response, context) if wants_fragment(request) else response


def _spoken(response: HttpResponse, context: dict[str, Any]) -> HttpResponse:
    """The address follows the sum, and the page's one status line says what it buys."""
    if "answer" not in context:
        return trigger_client_event(response, "say", {"value": "No scope for this sum; the page says why."})
    found, sign = context["answer"], context["sign"]
    words = (
        f"{sign}{found.price:,.0f}: {len(found.mended)} mended, {found.share:.0f} % of the harm taken away."
    )
    response = replace_url(response, f"{context['address']}{context['budget']:.0f}")
    return trigger_client_event(response, "say", {"value": words})


def _form(weighing: Weighing, data: Mapping[str, Any] | None, kept: list[Scope]) -> ScopeForm:
    """As it was typed; else as it was kept last; else with the sum that the picture suggests."""
    initial: dict[str, Any] = {}
    if data is None and kept:
        initial = {"budget": kept[0].budget, **initial_of(_wishes_of(kept[0]), weighing)}
    return ScopeForm(data, weighing=weighing, initial=initial)


def _weighed(form: ScopeForm, weighing: Weighing) -> dict[str, Any]:
    """The answer and its picture, or the trouble with what is asked."""
    wishes = form.wishes
    try:
        question = asked(weighing, wishes)
    except Refused as clash:
        return {"trouble": clash}
    budget = form.cleaned_data["budget"] if form.is_bound else form.initial.get("budget")
    if budget is None:
        budget = form.initial["budget"] = suggested(question)
    address = _addresses(form)
    facts = {"budget": budget, "address": address, "said": _said(form)}
    return facts | _answered(question, wishes, budget, address)


def _answered(question: Asked, wishes: Wishes, budget: Decimal, address: str) -> dict[str, Any]:
    try:
        found = answer(question, wishes, budget)
    except TooLittle as short:
        return {"trouble": short, "chart": picture(question, budget, None, address), "steps": _ends(question)}
    return {"answer": found, "chart": picture(question, budget, found, address), "steps": _ends(question)}


def _ends(question: Asked) -> dict[str, Decimal]:
    """The least and the most that the slider runs between."""
    outline = question.outline(200)
    return {
        "least": outline[0][0],
        "most": outline[-1][0],
        "by": Decimal(question.weighing.reckoner.prices.step),
    }


def _addresses(form: ScopeForm) -> str:
    """The page's address with all wishes, to which a budget can be added."""
    query = "".join(f"{name}={value}&" for name, value in _said(form))
    return f"{reverse('offers:scope', args=[form.weighing.instrument.number])}?{query}budget="


def _said(form: ScopeForm) -> list[tuple[str, str]]:
    """The wishes as they stand in the form, those that were said."""
    return [
        (name, form[name].value()) for name in form.fields if name.startswith(WISH) and form[name].value()
    ]


def _wishes_of(kept: Scope) -> Wishes:
    return Wishes(tuple(kept.wishes.get("insist", ())), tuple(kept.wishes.get("refuse", ())))


def _address_of(kept: Scope, weighing: Weighing) -> str:
    said = {name: value for name, value in initial_of(_wishes_of(kept), weighing).items() if value}
    query = "".join(f"{name}={value}&" for name, value in said.items())
    return f"{reverse('offers:scope', args=[weighing.instrument.number])}?{query}budget={kept.budget:.2f}"
