"""One finding: write it down, correct it, strike it; and a word about an earlier one."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from shopflow.catalogue.models import ComponentGroup, FindingKind
from shopflow.common.refusals import Refused
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.people.edits import ChangedMeanwhile

from ..forms.survey import CorrectForm, FindingForm
from ..models import Finding, Instrument, Survey
from ..selectors import instrument_or_404
from ..selectors.survey_group import kinds_of
from ..services import survey as services
from .at_hand import done, finding_or_404, fresh_key, group_or_404, none_open, open_survey, survey_or_404

OWN = "own"
BUTTONS = {
    "take-back": (services.take_back, "Finding {number} is taken back; it stays in the records."),
    "put-back": (services.put_back, "Finding {number} counts again."),
}


@only(Deed.SURVEY)
@require_http_methods(["GET", "HEAD", "POST"])
def new_finding(request: HttpRequest, number: str, group: str, kind: str) -> HttpResponse:
    """`kind` is a code of the library, or "own": something else, in own words."""
    instrument, part = instrument_or_404(number), group_or_404(group)
    of_library = _kind_or_404(part, kind, instrument)
    form_name = f"{part.code}/finding-{kind}"
    if request.method != "POST":
        writing = open_survey(instrument)
        if writing is None:
            return none_open(request, instrument)
        form = _fresh(request, writing, of_library, form_name)
        return _form_page(request, writing, part, of_library, form, form_name)
    survey = survey_or_404(instrument)
    form = FindingForm(request.POST, in_own_words=of_library is None)
    if not form.is_valid():
        return _form_page(request, survey, part, of_library, form, form_name, status=422)
    try:
        finding = services.add_finding(
            survey=survey,
            group=part,
            kind=of_library,
            by=me(request),
            key=form.cleaned_data["key"],
            draft=form_name,
            **form.facts,
        )
    except Refused as refused:
        form.add_error(None, refused.message)
        return _form_page(request, survey, part, of_library, form, form_name, status=refused.status)
    return done(
        request, f"Finding {finding.number} is written down: {finding.name}.", _group_url(finding, "found")
    )


@only(Deed.SURVEY)
@require_http_methods(["GET", "HEAD", "POST"])
def finding(request: HttpRequest, number: str, which: int) -> HttpResponse:
    """Correct a finding while its survey is open."""
    instrument = instrument_or_404(number)
    known = finding_or_404(instrument, which)
    form_name = f"{known.group.code}/change-{known.number}"
    if request.method != "POST":
        return _correct_page(request, known, CorrectForm.showing(known, _typed(request, known, form_name)))
    form = CorrectForm(request.POST, in_own_words=known.kind_id is None)
    if not form.is_valid():
        return _correct_page(request, known, form, status=422)
    try:
        services.change_finding(
            finding=known, facts=form.facts, seen=form.cleaned_data["seen"], by=me(request), draft=form_name
        )
    except ChangedMeanwhile as clash:
        known.refresh_from_db()
        return _correct_page(request, known, form.overtaken_by(known), status=409, clash=clash)
    except Refused as refused:
        form.add_error(None, refused.message)
        return _correct_page(request, known, form, status=refused.status)
    return done(request, f"Finding {known.number} is corrected.", _group_url(known, "found"))


@only(Deed.SURVEY)
@require_POST
def finding_button(request: HttpRequest, number: str, which: int, button: str) -> HttpResponse:
    instrument = instrument_or_404(number)
    known = finding_or_404(instrument, which)
    if button not in BUTTONS:
        raise Http404("There is no such button.")
    deed, words = BUTTONS[button]
    try:
        deed(finding=known, by=me(request))
    except Refused as refused:
        return _not_taken(request, instrument, refused)
    return done(request, words.format(number=known.number), _group_url(known, "found"))


@only(Deed.SURVEY)
@require_POST
def verdict(request: HttpRequest, number: str, which: int) -> HttpResponse:
    """What the open survey says of an earlier finding, in one tap."""
    instrument = instrument_or_404(number)
    earlier = finding_or_404(instrument, which)
    survey = survey_or_404(instrument)
    said = request.POST.get("verdict", "")
    try:
        word = services.say_of_earlier(survey=survey, earlier=earlier, verdict=said, by=me(request))
    except Refused as refused:
        return _not_taken(request, instrument, refused)
    words = f"Finding {earlier.number}: {word.get_verdict_display()}."
    to_whole = request.POST.get("from") == "whole"
    to = reverse("instruments:survey", args=[instrument.number]) if to_whole else _group_url(word, "earlier")
    return done(request, words, to)


def _kind_or_404(part: ComponentGroup, code: str, instrument: Instrument) -> FindingKind | None:
    if code == OWN:
        return None
    kind = kinds_of(part, instrument.kind).filter(code=code).first()
    if kind is None:
        raise Http404("The library has no such finding for this part.")
    return kind


def _fresh(request: HttpRequest, survey: Survey, kind: FindingKind | None, form_name: str) -> FindingForm:
    draft = survey.drafts.filter(by=me(request), form=form_name).first()
    initial = {"severity": kind.usual_severity if kind else None, "confidence": "seen", "key": fresh_key()}
    return FindingForm(initial=initial | (draft.fields if draft else {}), in_own_words=kind is None)


def _typed(request: HttpRequest, known: Finding, form_name: str) -> dict[str, str] | None:
    draft = known.survey.drafts.filter(by=me(request), form=form_name).first()
    return draft.fields if draft else None


def _group_url(finding: Finding, where: str) -> str:
    number = finding.instrument.number
    return reverse("instruments:survey-group", args=[number, finding.group.code]) + f"#{where}"


def _form_page(
    request: HttpRequest,
    survey: Survey,
    part: ComponentGroup,
    kind: FindingKind | None,
    form: FindingForm,
    form_name: str,
    *,
    status: int = 200,
) -> HttpResponse:
    context = {
        "instrument": survey.instrument,
        "group": part,
        "inside_group": True,
        "kind": kind,
        "form": form,
        "form_name": form_name,
        "form_action": request.path,
        "title": kind.name if kind else "Something else",
    }
    return _render(request, context, status)


def _correct_page(
    request: HttpRequest,
    known: Finding,
    form: CorrectForm,
    *,
    status: int = 200,
    clash: ChangedMeanwhile | None = None,
) -> HttpResponse:
    context = {
        "instrument": known.instrument,
        "group": known.group,
        "inside_group": known.survey.finished_at is None,
        "kind": known.kind,
        "finding": known,
        "form": form,
        "form_name": f"{known.group.code}/change-{known.number}",
        "form_action": request.path,
        "title": known.name,
        "clash": clash,
        "is_open": known.survey.finished_at is None and known.taken_back_at is None,
    }
    return _render(request, context, status)


def _render(request: HttpRequest, context: dict[str, object], status: int) -> HttpResponse:
    piece = bool(request.htmx) and request.htmx.target == "finding-form"  # type: ignore[attr-defined]
    template = "instruments/_finding_form.html" if piece else "instruments/survey_finding.html"
    return render(request, template, context, status=status)


def _not_taken(request: HttpRequest, instrument: Instrument, refused: Refused) -> HttpResponse:
    context = {"instrument": instrument, "words": refused.message}
    return render(request, "instruments/survey_is_finished.html", context, status=refused.status)
