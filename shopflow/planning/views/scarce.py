"""The set-up's pages of what is scarce, and of what a finished instrument counts."""

from __future__ import annotations

from copy import copy
from functools import partial

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from shopflow.catalogue.views.answers import form_page, kept, me, office, row_for, saved, sent
from shopflow.common.refusals import Refused
from shopflow.planning.forms.things import ScarceThingForm, SizesForm
from shopflow.planning.models import ScarceThing
from shopflow.planning.services import things as services

UNKNOWN = "The next plan knows it."


@office("GET", "HEAD")
def things(request: HttpRequest) -> HttpResponse:
    rows = ScarceThing.objects.prefetch_related("operations__department")
    return render(request, "planning/things.html", {"things": rows})


@office("POST")
def usual(request: HttpRequest) -> HttpResponse:
    try:
        made = services.add_usual_things(by=me(request))
    except Refused as refused:
        return saved(request, refused.message, "planning:things")
    names = ", ".join(one.name for one in made)
    return saved(request, f"Added: {names}. {UNKNOWN}", "planning:things")


@office("GET", "HEAD", "POST")
def new_thing(request: HttpRequest) -> HttpResponse:
    form = ScarceThingForm(sent(request))
    made = kept(form, lambda: services.add_thing(**form.cleaned_data, by=me(request)))
    if made:
        return saved(request, f"“{made.name}” is there. {UNKNOWN}", "planning:things")
    return form_page(request, "planning/thing.html", form)


@office("GET", "HEAD", "POST")
def thing(request: HttpRequest, code: str) -> HttpResponse:
    row = row_for(request, ScarceThing.objects.all(), code=code)
    form = ScarceThingForm(sent(request), instance=copy(row))
    change = partial(services.change_thing, thing=row, by=me(request))
    if kept(form, lambda: change(**form.cleaned_data)):
        return saved(request, f"“{row.name}” is kept. {UNKNOWN}", "planning:things")
    return form_page(request, "planning/thing.html", form, thing=row)


@office("POST")
def take_away(request: HttpRequest, code: str) -> HttpResponse:
    row = row_for(request, ScarceThing.objects.all(), code=code)
    services.take_thing_away(thing=row, by=me(request))
    return saved(request, f"Nothing waits for “{row.name}” any more. {UNKNOWN}", "planning:things")


@office("GET", "HEAD", "POST")
def sizes(request: HttpRequest) -> HttpResponse:
    form = SizesForm(sent(request))
    done = kept(form, lambda: services.set_sizes(sizes=form.cleaned_data, by=me(request)) or True)
    if done:
        return saved(request, f"Kept. {UNKNOWN}", "planning:sizes")
    return form_page(request, "planning/sizes.html", form)
