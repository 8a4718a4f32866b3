"""The pages of a handover: write the report, check the piano, look at it whole, hand it over."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors.safety import unanswered
from shopflow.offers.forms.handovers import STATES, ReceiveForm, ReportForm, verdicts_in
from shopflow.offers.frozen import fingerprint_of
from shopflow.offers.models import Handover
from shopflow.offers.selectors import handovers as selectors
from shopflow.offers.selectors.report import report_of
from shopflow.offers.services import handovers as services
from shopflow.offers.services.evidence import TickWithout
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.workshop.selectors.instrument import instrument_or_404
from shopflow.workshop.services.final_check import lacking


@only(Deed.HAND_OVER)
@require_http_methods(["GET", "HEAD", "POST"])
def handover(request: HttpRequest, number: str) -> HttpResponse:
    """The report being written, and those that were handed over."""
    instrument = instrument_or_404(number)
    row = selectors.being_written(instrument)
    if request.method != "POST":
        return _page(request, instrument, row)
    if row is None:
        raise Http404("No report is being written.")
    form = ReportForm(request.POST)
    if not form.is_valid():
        return _page(request, instrument, row, form=form, status=422)
    try:
        services.write(
            handover=row, seen_edition=form.cleaned_data["edition"], texts=form.texts, by=me(request)
        )
    except services.ChangedMeanwhile as clash:
        form.data = form.data.copy()  # type: ignore[attr-defined]
        form.data["edition"] = clash.handover.edition  # type: ignore[index]
        return _page(request, instrument, clash.handover, form=form, refused=clash, status=409)
    messages.success(request, "The report is saved.")
    return redirect("offers:handover", instrument.number)


@only(Deed.HAND_OVER)
@require_POST
def begin(request: HttpRequest, number: str) -> HttpResponse:
    instrument = instrument_or_404(number)
    try:
        services.begin(instrument=instrument, by=me(request))
    except Refused as refused:
        return _page(request, instrument, None, refused=refused, status=refused.status)
    return redirect("offers:handover", instrument.number)


@only(Deed.SEE_SHOP)
@require_http_methods(["GET", "HEAD", "POST"])
def checks(request: HttpRequest, number: str) -> HttpResponse:
    """The final check list, for whoever stands at the piano: a hand may fill it in and sign it."""
    instrument = instrument_or_404(number)
    row = selectors.being_written(instrument)
    if row is None:
        if request.method == "POST":
            raise Http404("No report is being written.")
        return render(request, "offers/handover_checks.html", {"instrument": instrument, "handover": None})
    if request.method != "POST":
        return _checks_page(request, row)
    verdicts = verdicts_in(request.POST, row.checks)
    try:
        services.check(handover=row, verdicts=verdicts, by=me(request), sign="sign" in request.POST)
    except Refused as refused:
        return _not_signed(request, row, verdicts, refused)
    messages.success(
        request, "The final check is signed." if "sign" in request.POST else "The check list is saved."
    )
    return redirect("offers:handover-checks", instrument.number)


def _not_signed(
    request: HttpRequest, row: Handover, verdicts: dict[str, dict[str, str]], refused: Refused
) -> HttpResponse:
    """What was ticked is kept all the same, but for what nothing shows for, unless it has gone home."""
    if isinstance(refused, TickWithout):
        verdicts |= {line: verdicts.get(line, {}) | {"state": ""} for line in refused.lines}
    if selectors.being_written(row.instrument) is not None:
        row = services.check(handover=row, verdicts=verdicts, by=me(request))
    return _checks_page(request, row, refused=refused.message, status=refused.status)


@only(Deed.HAND_OVER)
@require_http_methods(["GET", "HEAD", "POST"])
def preview(request: HttpRequest, number: str) -> HttpResponse:
    """The report as it will be handed over; handing over takes exactly what is shown here."""
    instrument = instrument_or_404(number)
    row = selectors.being_written(instrument)
    if request.method != "POST":
        if row is None:
            raise Http404("No report is being written.")
        return _preview_page(request, row)
    form = ReceiveForm(request.POST)
    row = row or _given_just_now(instrument)
    if not form.is_valid():
        return _preview_page(request, row, form=form, status=422)
    try:
        given = services.hand_over(handover=row, by=me(request), **form.cleaned_data)
    except Refused as refused:
        row.refresh_from_db()
        return _preview_page(request, row, form=form, refused=refused.message, status=refused.status)
    messages.success(request, f"The report is handed over to {given.received_by}.")
    return redirect("offers:handover-report", instrument.number, given.number)


@only(Deed.HAND_OVER)
@require_safe
def report(request: HttpRequest, number: str, report_number: int) -> HttpResponse:
    """A report that was handed over: readable for ever, as it was."""
    instrument = instrument_or_404(number)
    row = selectors.handed_over_or_404(instrument, report_number)
    context = {"instrument": instrument, "handover": row, "report": row.frozen}
    return render(request, "offers/handover_report.html", context)


@only(Deed.SEE_SHOP)
@require_safe
def handover_notice(request: HttpRequest, number: str) -> HttpResponse:
    """A line for the page on which an instrument leaves: whether a report was handed over."""
    instrument = instrument_or_404(number)
    context = {
        "instrument": instrument,
        "given": selectors.handed_over_of_this_stay(instrument),
        "writing": selectors.being_written(instrument),
        "may_write": access.may(request.user, Deed.HAND_OVER),
    }
    return render(request, "offers/_handover_notice.html", context)


def _given_just_now(instrument: Instrument) -> Handover:
    """A form sent twice comes when nothing is being written any more: it is about the last one given."""
    given = selectors.handed_over(instrument)
    if not given:
        raise Http404("No report is being written.")
    return given[0]


def _page(
    request: HttpRequest,
    instrument: Instrument,
    row: Handover | None,
    *,
    form: ReportForm | None = None,
    refused: Refused | None = None,
    status: int = 200,
) -> HttpResponse:
    context: dict[str, Any] = {
        "instrument": instrument,
        "handover": row,
        "given": selectors.handed_over(instrument),
        "refused": refused.message if refused else "",
    }
    if row is not None:
        context |= {
            "form": form or ReportForm.showing(row),
            "missing": selectors.missing_for(row),
            "not_clear": len(selectors.not_clear(row)),
        }
    return render(request, "offers/handover.html", context, status=status)


def _checks_page(
    request: HttpRequest, row: Handover, *, refused: str = "", status: int = 200
) -> HttpResponse:
    context = {
        "instrument": row.instrument,
        "handover": row,
        "refused": refused,
        "states": STATES.items(),
        "lacking": lacking(row.instrument),
        "unsafe": unanswered(row.instrument),
        "evidence": selectors.evidence_of(row.instrument),
        "may_sign": selectors.last_at_it(row.instrument) != me(request).pk,
    }
    return render(request, "offers/handover_checks.html", context, status=status)


def _preview_page(
    request: HttpRequest,
    row: Handover,
    *,
    form: ReceiveForm | None = None,
    refused: str = "",
    status: int = 200,
) -> HttpResponse:
    shown = report_of(row)
    owner = row.instrument.customer
    seen = fingerprint_of(shown)
    form = form or ReceiveForm(initial={"received_by": owner.name if owner else ""})
    context = {
        "instrument": row.instrument,
        "handover": row,
        "report": shown,
        "missing": selectors.missing_for(row),
        "seen": seen,
        "form": form,
        "refused": refused,
    }
    return render(request, "offers/handover_preview.html", context, status=status)
