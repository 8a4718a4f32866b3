"""Bringing what a shop has: choose a file, look at what it would do, bring it in, see what came."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST, require_safe

from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.workshop.forms.bring import BringForm
from shopflow.workshop.services.bringing import keeping, writing
from shopflow.workshop.services.bringing.columns import COLUMNS
from shopflow.workshop.services.bringing.keeping import Kept
from shopflow.workshop.services.bringing.plan import Plan
from shopflow.workshop.services.bringing.problems import Unreadable

from .replies import SeeOther

EXAMPLE = "example-instruments.csv"
SHOWN_INSTRUMENTS = 10
SHOWN_TASKS = 4


@require_http_methods(["GET", "HEAD", "POST"])
@only(Deed.BRING_IN)
def bring(request: HttpRequest) -> HttpResponse:
    """Choose a file. One with faults is answered with them and not kept; one without waits here."""
    if request.method != "POST":
        return _choose(request, BringForm())
    form = BringForm(request.POST, request.FILES)
    if not form.is_valid():
        too_large = form.has_error("file", code="too-large")
        return _choose(request, form, status=413 if too_large else 422)
    file = form.cleaned_data["file"]
    found = Kept(key="", name=file.name, data=file.read())
    try:
        plan = writing.look(found, {}, by=request.user)
    except Unreadable as unreadable:
        form.add_error("file", unreadable.words)
        return _choose(request, form, status=unreadable.status)
    if plan.problems:
        return _choose(request, BringForm(), status=422, plan=plan, file_name=file.name)
    key = keeping.keep(data=found.data, name=file.name, by=request.user)
    return SeeOther(reverse("workshop:bring-look", args=[key]))


@require_http_methods(["GET", "HEAD", "POST"])
@only(Deed.BRING_IN)
def look(request: HttpRequest, key: str) -> HttpResponse:
    """What the kept file would do; sent, it does it, once."""
    by: Any = request.user
    done = reverse("workshop:brought", args=[key])
    if writing.brought(key, by=by):
        return SeeOther(done)
    file = keeping.kept(key, by=by)
    if file is None:
        raise Http404("no such file is waiting")
    if request.method != "POST":
        return _look(request, file, writing.look(file, {}, by=by))
    try:
        answer = writing.bring_in(file, request.POST, by=by)
    except writing.NotReady as not_ready:
        return _look(request, file, not_ready.plan, status=422, sent=True)
    if answer.status != 200:
        plan = writing.look(file, request.POST, by=by)
        return _look(request, file, plan, status=answer.status, refused=answer.said["refused"], sent=True)
    keeping.forget(key, by=by)
    return SeeOther(done)


@require_POST
@only(Deed.BRING_IN)
def leave(request: HttpRequest, key: str) -> HttpResponse:
    """Let the file go; nothing of it stays."""
    by: Any = request.user
    if keeping.kept(key, by=by) is None:
        raise Http404("no such file is waiting")
    keeping.forget(key, by=by)
    messages.success(request, "The file was let go. Nothing was brought in.")
    return redirect("workshop:bring")


@require_safe
@only(Deed.BRING_IN)
def brought(request: HttpRequest, key: str) -> HttpResponse:
    """What came in."""
    said = writing.brought(key, by=request.user)
    if said is None:
        raise Http404("nothing was brought in under this key")
    context = {
        "said": said,
        "links": [(number, _address("workshop:instrument", number)) for number in said["numbers"]],
        "more": said["brought"] - len(said["numbers"]),
        "crumbs": _crumbs(),
    }
    return render(request, "workshop/brought.html", context)


@require_GET
@only(Deed.BRING_IN)
def example(request: HttpRequest) -> HttpResponse:
    """The example file, to be filled in."""
    answer = HttpResponse(
        (settings.BASE_DIR / "fixtures" / EXAMPLE).read_bytes(), content_type="text/csv; charset=utf-8"
    )
    answer.headers["Content-Disposition"] = f'attachment; filename="{EXAMPLE}"'
    return answer


def _choose(request: HttpRequest, form: BringForm, *, status: int = 200, **more: Any) -> HttpResponse:
    context = {"form": form, "columns": COLUMNS, "crumbs": _crumbs(), **more}
    return render(request, "workshop/bring.html", context, status=status)


def _look(
    request: HttpRequest, file: Kept, plan: Plan, *, status: int = 200, refused: str = "", sent: bool = False
) -> HttpResponse:
    shown = plan.coming[:SHOWN_INSTRUMENTS]
    context = {
        "file": file,
        "plan": plan,
        "refused": refused,
        "sent": sent,
        "stats": _stats(plan),
        "rows": [(draft, draft.tasks[:SHOWN_TASKS], len(draft.tasks) - SHOWN_TASKS) for draft in shown],
        "more": len(plan.coming) - len(shown),
        "crumbs": [*_crumbs(), ("Bring what you have", reverse("workshop:bring"))],
    }
    return render(request, "workshop/bring_look.html", context, status=status)


def _stats(plan: Plan) -> list[tuple[int, str]]:
    counts = [
        (len(plan.coming), "instrument"),
        (plan.task_count, "task"),
        (len(plan.owners.fresh), "new customer"),
    ]
    return [(count, word if count == 1 else f"{word}s") for count, word in counts]


def _crumbs() -> list[tuple[str, str]]:
    url = _address("reports:records")
    return [("Records", url)] if url else []


def _address(name: str, *args: str) -> str:
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""
