"""What to start next, and whether estimates are true."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shopflow.common import clock
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.planning.selectors.load import moves_since
from shopflow.planning.selectors.plans import published
from shopflow.planning.selectors.release import release_list
from shopflow.planning.selectors.trueness import trueness


@only(Deed.PLAN)
@require_safe
def release(request: HttpRequest) -> HttpResponse:
    plan = published()
    facts = {
        "plan": plan,
        "moves_since": moves_since(plan) if plan else 0,
        "shown": release_list(plan, now=clock.now(), today=clock.today()),
    }
    return render(request, "planning/release.html", facts)


@only(Deed.REPORTS)
@require_safe
def estimates(request: HttpRequest) -> HttpResponse:
    return render(request, "planning/estimates.html", {"table": trueness()})
