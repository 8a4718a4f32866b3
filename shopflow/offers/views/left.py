"""What was left as found: the page of an instrument, and a line for pages that are not about it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from shopflow.common.refusals import Refused
from shopflow.instruments.models import Finding, Instrument
from shopflow.instruments.selectors.safety import Unsafe, unsafe_and_open
from shopflow.instruments.services import safety
from shopflow.offers.forms.left import EndForm, LeaveForm, UnsafeForm
from shopflow.offers.models import LeftAsFound
from shopflow.offers.selectors import left as selectors
from shopflow.offers.selectors.terms import the_terms
from shopflow.offers.services import leaving
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.workshop.selectors.instrument import instrument_or_404


@only(Deed.SEE_SHOP)
@require_safe
def left(request: HttpRequest, number: str) -> HttpResponse:
    """A hand sees what is not to be mended and why; who decided and what it costs is for the office."""
    return _page(request, instrument_or_404(number))


@only(Deed.SEE_SHOP)
@require_safe
def left_notice(request: HttpRequest, number: str) -> HttpResponse:
    """A line for the page of the instrument, fetched by it; nothing where nothing was left."""
    instrument = instrument_or_404(number)
    context = {"instrument": instrument, "left": selectors.left_briefly(instrument)}
    return render(request, "offers/_left_notice.html", context)


@only(Deed.OFFERS)
@require_POST
def leave(request: HttpRequest, number: str, finding_pk: int) -> HttpResponse:
    instrument = instrument_or_404(number)
    finding = get_object_or_404(Finding, pk=finding_pk, instrument=instrument, taken_back_at=None)
    form = LeaveForm(request.POST, auto_id=f"leave-{finding_pk}-%s")
    if form.is_valid():
        try:
            leaving.leave_by_the_shop(finding=finding, by=me(request), **form.facts())
        except Refused as refused:
            form.add_error(refused.field if refused.field in form.fields else None, refused.message)
        else:
            messages.success(request, f"“{finding.name}” is left as found, and said so wherever it matters.")
            return redirect("offers:left", instrument.number)
    return _page(request, instrument, form=form, at=finding_pk, status=422)


@only(Deed.OFFERS)
@require_POST
def end(request: HttpRequest, number: str, left_pk: int) -> HttpResponse:
    instrument = instrument_or_404(number)
    row = get_object_or_404(LeftAsFound, pk=left_pk, finding__instrument=instrument)
    form = EndForm(request.POST, auto_id=f"end-{left_pk}-%s")
    if form.is_valid():
        try:
            leaving.end_leaving(left=row, by=me(request), **form.cleaned_data)
        except Refused as refused:
            form.add_error(refused.field if refused.field in form.fields else None, refused.message)
        else:
            messages.success(request, f"“{row.finding.name}” is no longer left as found.")
            return redirect("offers:left", instrument.number)
    return _page(request, instrument, form=form, at=left_pk, status=422)


@only(Deed.OFFERS)
@require_POST
def answer_unsafe(request: HttpRequest, number: str, finding_pk: int) -> HttpResponse:
    """Why something unsafe stays, and the customer's written word."""
    instrument = instrument_or_404(number)
    finding = get_object_or_404(Finding, pk=finding_pk, instrument=instrument, about=None)
    form = UnsafeForm(request.POST, auto_id=f"unsafe-{finding_pk}-%s")
    if form.is_valid():
        try:
            safety.answer_for(finding=finding, by=me(request), **form.cleaned_data)
        except Refused as refused:
            form.add_error(refused.field if refused.field in form.fields else None, refused.message)
        else:
            messages.success(request, f"It is on record who answers for “{finding.name}”, and in the report.")
            return redirect("offers:left", instrument.number)
    return _page(request, instrument, form=form, at=finding_pk, status=422)


def _page(
    request: HttpRequest,
    instrument: Instrument,
    *,
    form: LeaveForm | EndForm | UnsafeForm | None = None,
    at: int = 0,
    status: int = 200,
) -> HttpResponse:
    may_decide = access.may(request.user, Deed.OFFERS)
    rows = selectors.left_as_found(instrument)
    open_ones = selectors.undecided(instrument)
    context = {
        "instrument": instrument,
        "may_decide": may_decide,
        "unsafe": [
            (one, _unsafe_form(one, form, at) if may_decide else None) for one in unsafe_and_open(instrument)
        ],
        "currency": the_terms().currency if may_decide else "",
        "lines": [(row, _end_form(row, form, at) if may_decide else None) for row in rows],
        "ended": selectors.no_longer_left(instrument),
        "open": [(one, _leave_form(one, form, at) if may_decide else None) for one in open_ones],
        "wrong": form,
    }
    return render(request, "offers/left.html", context, status=status)


def _unsafe_form(one: Unsafe, form: object, at: int) -> UnsafeForm:
    if isinstance(form, UnsafeForm) and at == one.found.pk:
        return form
    owner = one.found.first.instrument.customer
    usual = {"word_by": owner.name if owner else ""}
    return UnsafeForm(initial=usual, auto_id=f"unsafe-{one.found.pk}-%s")


def _end_form(row: LeftAsFound, form: object, at: int) -> EndForm:
    return form if isinstance(form, EndForm) and at == row.pk else EndForm(auto_id=f"end-{row.pk}-%s")


def _leave_form(finding: selectors.CurrentFinding, form: object, at: int) -> LeaveForm:
    if isinstance(form, LeaveForm) and at == finding.pk:
        return form
    usual = {"consequence": finding.if_left, "can_wait": True, "reason": Finding.Reason.SOUND}
    return LeaveForm(initial=usual, auto_id=f"leave-{finding.pk}-%s")
