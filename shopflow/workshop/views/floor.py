from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from shopflow.common.htmx import only_when_changed, wants_fragment
from shopflow.instruments.models import Instrument
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Role
from shopflow.workshop.selectors.floor import Filter
from shopflow.workshop.selectors.floor import floor as whole_floor


@login_required
@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Hands go to a bench, the office to the Floor."""
    access.require(request.user, Deed.SEE_SHOP)
    at_a_bench = request.user.acting_role == Role.HAND
    return redirect("workshop:benches" if at_a_bench else "workshop:floor")


@login_required
@require_safe
@only_when_changed
def floor(request: HttpRequest) -> HttpResponse:
    """The whole workshop; a number typed in full goes straight to its instrument."""
    access.require(request.user, Deed.SEE_SHOP)
    wanted = _filter(request)
    if wanted.words and not wants_fragment(request):
        found = Instrument.objects.filter(number__iexact=wanted.words).first()
        if found:
            return redirect(found)
    template = "workshop/_floor.html" if wants_fragment(request) else "workshop/floor.html"
    context = {
        "floor": whole_floor(wanted),
        "wanted": wanted,
        "pulse_mark": request.pulse_mark,  # type: ignore[attr-defined]
        "may_take_in": access.may(request.user, Deed.INSTRUMENTS),
    }
    return render(request, template, context)


def _filter(request: HttpRequest) -> Filter:
    """Unknown values fall back to everything; a search longer than any number or name is cut."""
    only = request.GET.get("only", "")
    known = {value for value, _ in Filter.ONLY}
    words = request.GET.get("search", "").replace("\0", "").strip()[:60]
    by_owner = access.may(request.user, Deed.SEE_CUSTOMER)
    return Filter(words=words, only=only if only in known else "", by_owner=by_owner)
