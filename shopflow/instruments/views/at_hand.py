"""What every page of a survey needs: the instrument, its open survey, the group, and the way back."""

from __future__ import annotations

import secrets
from typing import Any

from django.contrib import messages
from django.db.models import F
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django_htmx.http import HttpResponseClientRedirect

from shopflow.catalogue.models import ComponentGroup, Shop, Units

from ..models import Finding, Instrument, Survey


def open_survey(instrument: Instrument) -> Survey | None:
    """The one that is being written, if any."""
    survey = instrument.surveys.select_related("by").filter(finished_at=None).first()
    if survey is not None:
        survey.instrument = instrument
    return survey


def none_open(request: HttpRequest, instrument: Instrument) -> HttpResponse:
    """A page of a survey that was finished meanwhile, or never begun: lead to where one sees that."""
    messages.info(request, f"No survey of {instrument.number} is open.")
    return redirect("instruments:survey", instrument.number)


def survey_or_404(instrument: Instrument) -> Survey:
    """The open one, else the one finished last: what a form sent late is answered by."""
    survey = instrument.surveys.order_by(F("finished_at").desc(nulls_first=True)).first()
    if survey is None:
        raise Http404("There is no survey of this instrument.")
    survey.instrument = instrument
    return survey


def group_or_404(code: str) -> ComponentGroup:
    group = ComponentGroup.objects.filter(code=code).first()
    if group is None:
        raise Http404("There is no such part of an instrument.")
    return group


def finding_or_404(instrument: Instrument, number: int) -> Finding:
    found = instrument.findings.select_related("survey", "group", "kind", "about", "by")
    finding = found.filter(number=number).first() if number < 2**15 else None
    if finding is None:
        raise Http404("There is no such finding.")
    return finding


def units() -> str:
    shop = Shop.objects.filter(pk=1).first()
    return shop.units if shop else Units.METRIC


def fresh_key() -> str:
    return secrets.token_urlsafe(16)


def done(request: HttpRequest, words: str, to: str) -> HttpResponse:
    """After a deed: say so, and go there; htmx goes there as a whole page, too."""
    messages.success(request, words)
    if request.htmx:  # type: ignore[attr-defined]
        return HttpResponseClientRedirect(to)
    return redirect(to)


Context = dict[str, Any]
