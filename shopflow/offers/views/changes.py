"""The office's pages of change orders: begin, write, send, take back, settle, enter what was answered."""

from __future__ import annotations

import secrets
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shopflow.catalogue.models import Terms
from shopflow.catalogue.selectors import the_shop
from shopflow.common import clock
from shopflow.common.mail import Went, nobody_got, what_to_do
from shopflow.common.refusals import Refused
from shopflow.customers.models import PrivateLink
from shopflow.customers.services import links
from shopflow.instruments.models import Finding, Instrument
from shopflow.offers import change_letters, change_paper, post
from shopflow.offers.forms.changes import AnswerForm, ChangeForm, EnteredAnswerForm, choice_forms
from shopflow.offers.forms.findings import CameToLightForm
from shopflow.offers.models import ChangeOrder
from shopflow.offers.selectors import changes as selectors
from shopflow.offers.selectors.allowance import allowance_of
from shopflow.offers.selectors.terms import the_terms
from shopflow.offers.selectors.touched import touched_by
from shopflow.offers.services import answers, asking
from shopflow.offers.services import changes as services
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.instrument import instrument_or_404

from .links import address_of


@only(Deed.OFFERS)
@require_safe
def changes(request: HttpRequest, number: str) -> HttpResponse:
    return _list(request, instrument_or_404(number))


@only(Deed.OFFERS)
@require_POST
def begin(request: HttpRequest, number: str) -> HttpResponse:
    """From a finding, or from a task with the finding that is named there."""
    instrument = instrument_or_404(number)
    finding = _row(Finding, request.POST.get("finding", ""), instrument=instrument)
    if finding is None:
        return _list(request, instrument, refused="Choose the finding that it is about.", status=422)
    task = _row(Task, request.POST.get("task", ""), instrument=instrument, dropped_at=None)
    try:
        change = services.begin(finding=finding, by=me(request), stops=[task] if task else [])
    except Refused as refused:
        return _list(request, instrument, refused=refused.message, status=refused.status)
    return redirect("offers:change", instrument.number, change.number)


@only(Deed.OFFERS)
@require_POST
def begin_with_new(request: HttpRequest, number: str) -> HttpResponse:
    """What came to light stands in no survey yet: it is written down and asked about in one go."""
    instrument = instrument_or_404(number)
    form = CameToLightForm(request.POST, instrument=instrument)
    if not form.is_valid():
        return _list(request, instrument, new_form=form, status=422)
    task = _row(Task, request.POST.get("task", ""), instrument=instrument, dropped_at=None)
    try:
        change = services.begin_with_new(
            instrument=instrument, finding=form.facts(), by=me(request), stops=[task] if task else []
        )
    except Refused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, refused.message)
        return _list(request, instrument, new_form=form, status=refused.status)
    return redirect("offers:change", instrument.number, change.number)


@only(Deed.OFFERS)
@require_http_methods(["GET", "HEAD", "POST"])
def change(request: HttpRequest, number: str, change_number: int) -> HttpResponse:
    """One change order: a draft to write, or what was asked and what was answered."""
    row = _change(number, change_number)
    if request.method != "POST":
        return _page(request, row)
    form, choices = ChangeForm(request.POST, change=row), choice_forms(row, request.POST)
    if not all([form.is_valid(), *(choice.is_valid() for choice in choices)]):
        return _page(request, row, form=form, choices=choices, status=422)
    try:
        if request.POST.get("then") == "send":
            sent = services.save_and_send(**_typed(request, row, form, choices))
            return _just_sent(request, sent, mail_to=form.cleaned_data["mail_to"])
        services.save_draft(**_typed(request, row, form, choices), price_anew="price_anew" in request.POST)
    except services.DraftChanged as clash:
        return _changed_meanwhile(request, clash.change, form, choices, clash)
    except Refused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, refused.message)
        return _page(request, row, form=form, choices=choices, status=refused.status)
    messages.success(request, f"Change order {row.number} is saved.")
    return redirect("offers:change", number, row.number)


@only(Deed.OFFERS)
@require_POST
def change_button(request: HttpRequest, number: str, change_number: int, button: str) -> HttpResponse:
    """Take it back to write it anew, or withdraw it."""
    row = _change(number, change_number)
    deed, said = _BUTTONS.get(button, (None, ""))
    if deed is None:
        raise Http404("There is no such button.")
    try:
        deed(change=row, seen_edition=_edition(request), by=me(request))
    except Refused as refused:
        row.refresh_from_db()
        return _page(request, row, refused=refused.message, status=refused.status)
    messages.success(request, said)
    return redirect("offers:change", number, row.number)


@only(Deed.OFFERS)
@require_POST
def settle(request: HttpRequest, number: str, change_number: int) -> HttpResponse:
    """Do what is needed without asking, within the terms."""
    row = _change(number, change_number)
    choice = request.POST.get("choice", "")
    try:
        answers.settle_by_policy(
            change=row,
            choice_id=int(choice) if _is_key(choice) else 0,
            seen_edition=_edition(request),
            by=me(request),
        )
    except Refused as refused:
        row.refresh_from_db()
        return _page(request, row, refused=refused.message, status=refused.status)
    messages.success(request, "Settled by the terms of the shop. The customer's page tells of it.")
    return redirect("offers:change", number, row.number)


@only(Deed.OFFERS)
@require_POST
def enter_answer(request: HttpRequest, number: str, change_number: int) -> HttpResponse:
    row = _change(number, change_number)
    form = EnteredAnswerForm(request.POST)
    if not form.is_valid():
        return _page(request, row, answer_form=form, status=422)
    said = form.cleaned_data
    try:
        answers.enter_answer(
            change=row,
            choice_id=said["choice"],
            typed_name=said["typed_name"],
            fingerprint=said["fingerprint"],
            by=me(request),
        )
    except Refused as refused:
        row.refresh_from_db()
        return _page(request, row, refused=refused.message, status=refused.status)
    messages.success(request, "The answer is entered, and the work follows it.")
    return redirect("offers:change", number, row.number)


_BUTTONS: dict[str, tuple[Any, str]] = {
    "rewrite": (services.rewrite, "Write it anew and send it again; until then nobody can answer."),
    "withdraw": (services.withdraw, "It is withdrawn, and what it stopped goes on."),
}


def _change(number: str, change_number: int) -> ChangeOrder:
    return selectors.change_or_404(instrument_or_404(number), change_number)


def _typed(request: HttpRequest, row: ChangeOrder, form: ChangeForm, choices: list[Any]) -> dict[str, Any]:
    typed = {choice.kind: choice.facts for choice in choices}
    return {
        "change": row,
        "seen_edition": form.cleaned_data["edition"],
        "facts": form.facts,
        "choices": {kind: facts for kind, facts in typed.items() if facts is not None},
        "stops": form.cleaned_data["stops"],
        "by": me(request),
    }


def _just_sent(request: HttpRequest, change: ChangeOrder, *, mail_to: str) -> HttpResponse:
    """Answers with a page and no redirect: the secret of the link is shown once and kept nowhere."""
    owner = change.instrument.customer
    fresh = links.make(instrument=change.instrument, by=me(request), for_whom=owner.name if owner else "")
    address = address_of(request, fresh.token)
    went = _mailed(change, fresh.link, address, mail_to)
    context = {
        "instrument": change.instrument,
        "change": change,
        "address": address,
        "went": went,
        "mailed": what_to_do(went, mail_to),
    }
    return render(request, "offers/change_just_sent.html", context)


def _mailed(change: ChangeOrder, link: PrivateLink, address: str, to: str) -> Went | None:
    if not to:
        return None
    paper = change_paper.paper_of(change)
    letter = change_letters.with_change(
        change=change, link=link, address=address, to=to, shop=the_shop(), paper=paper
    )
    return post.send(letter)


def _changed_meanwhile(
    request: HttpRequest,
    now: ChangeOrder,
    form: ChangeForm,
    choices: list[Any],
    clash: services.DraftChanged,
) -> HttpResponse:
    """What stands there now, and what was typed, which is saved over it only when it is sent once more."""
    if now.state != ChangeOrder.State.DRAFT:
        return _page(request, _change(now.instrument.number, now.number), refused=clash.message, status=409)
    form.data = form.data.copy()  # type: ignore[attr-defined]
    form.data["edition"] = now.edition  # type: ignore[index]
    return _page(request, now, form=form, choices=choices, refused=clash.message, status=409)


def _list(
    request: HttpRequest,
    instrument: Instrument,
    *,
    refused: str = "",
    new_form: CameToLightForm | None = None,
    status: int = 200,
) -> HttpResponse:
    task = _row(
        Task,
        request.GET.get("task", "") or request.POST.get("task", ""),
        instrument=instrument,
        dropped_at=None,
    )
    context = {
        "instrument": instrument,
        "changes": selectors.changes_of(instrument),
        "findings": selectors.findings_to_ask_about(instrument),
        "task": task,
        "terms": the_terms(),
        "new_form": new_form
        or CameToLightForm(instrument=instrument, initial={"key": secrets.token_urlsafe(16)}),
        "refused": refused,
        "today": clock.today(),
    }
    return render(request, "offers/changes.html", context, status=status)


def _page(
    request: HttpRequest,
    row: ChangeOrder,
    *,
    form: ChangeForm | None = None,
    choices: list[Any] | None = None,
    answer_form: AnswerForm | None = None,
    refused: str = "",
    status: int = 200,
) -> HttpResponse:
    is_draft = row.state == ChangeOrder.State.DRAFT
    context = {
        "instrument": row.instrument,
        "change": row,
        "refused": refused,
        "today": clock.today(),
        "rows": list(row.choices.select_related("remedy")),
        "currency": the_terms().currency,
        "allowance": allowance_of(row) if row.policy == Terms.Surprise.UP_TO else None,
        "answer_form": answer_form,
        "words": row.frozen or asking.words_of(row),
        "not_mailed": nobody_got("the answer"),
    }
    if is_draft:
        remedies = [choice.remedy for choice in context["rows"] if choice.remedy]
        why = {one.task.pk: one.why for one in touched_by(row.instrument, remedies)}
        form = form or ChangeForm(change=row)
        context |= {"form": form, "choices": choices or choice_forms(row), "why_stop": _ticks(form, why)}
    return render(request, "offers/change.html", context, status=status)


def _ticks(form: ChangeForm, why: dict[int, str]) -> list[tuple[Any, str]]:
    """Each task that may stop, with why it had better do so, those first."""
    ticks = [(tick, why.get(int(str(tick.data["value"])), "")) for tick in form["stops"]]
    return sorted(ticks, key=lambda tick: not tick[1])


def _edition(request: HttpRequest) -> int:
    typed = request.POST.get("edition", "")
    return int(typed) if _is_key(typed) else 0


def _is_key(typed: str) -> bool:
    return typed.isascii() and typed.isdecimal() and len(typed) < 18


def _row(model: Any, typed: str, **of: Any) -> Any:
    return model.objects.filter(pk=int(typed), **of).first() if _is_key(typed) else None
