"""Photos of one finding of a survey."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from shopflow.common.htmx import wants_json
from shopflow.instruments.models import Finding
from shopflow.people.access import Deed
from shopflow.people.door import me, only

from .. import services
from ..forms import FindingPhotoForm
from ..models import Photo
from .sending import Keep, answer_outbox, take


@only(Deed.SURVEY)
@require_http_methods(["GET", "HEAD", "POST"])
def of_finding(request: HttpRequest, pk: int) -> HttpResponse:
    """Photos of one finding: taken beside the piano, then back to the survey."""
    found = Finding.objects.select_related("instrument", "group", "survey")
    finding = get_object_or_404(found, pk=pk)
    if request.method != "POST":
        return _finding_page(request, finding, FindingPhotoForm.fresh())
    if wants_json(request):
        return answer_outbox(request, FindingPhotoForm(request.POST), _keeper(finding))
    form, files_sent = FindingPhotoForm(request.POST), request.FILES.getlist("photos")
    if not files_sent:
        form.add_error(None, "Take a photo first, or choose one.")
    if not form.is_valid():
        return _finding_page(request, finding, form, status=422)
    sent = take(files_sent, form.cleaned_data | {"by": me(request)}, _keeper(finding))
    if sent.refused:
        again = FindingPhotoForm.fresh(caption=form.cleaned_data["caption"])
        return _finding_page(request, finding, again, status=422, refused=sent.refused)
    messages.success(request, sent.words)
    return redirect(_way_back(finding))


def _keeper(finding: Finding) -> Keep:
    def keep(*, caption: str, **sent: Any) -> Photo:
        return services.add_photo(
            instrument=finding.instrument,
            finding=finding,
            role=Photo.Role.FOUND,
            caption=caption or finding.name,
            **sent,
        )

    return keep


def _way_back(finding: Finding) -> str:
    """To the group where the finding stands, while its survey is open; else to the report."""
    if finding.survey.finished_at is not None:
        return reverse("instruments:survey-report", args=[finding.instrument.number])
    number, group = finding.instrument.number, finding.group.code
    return reverse("instruments:survey-group", args=[number, group]) + f"#finding-{finding.number}"


def _finding_page(
    request: HttpRequest, finding: Finding, form: FindingPhotoForm, *, status: int = 200, **more: Any
) -> HttpResponse:
    context = {
        "finding": finding,
        "instrument": finding.instrument,
        "form": form,
        "photos": Photo.objects.shown().filter(finding=finding),
        "back": _way_back(finding),
        "is_open": finding.survey.finished_at is None,
        **more,
    }
    return render(request, "photos/of_finding.html", context, status=status)
