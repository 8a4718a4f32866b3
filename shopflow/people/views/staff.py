"""Set-up of people: the office's list, one person's page, and what is done there."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shopflow.people import selectors, throttle
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.people.edits import ChangedMeanwhile
from shopflow.people.forms.staff import PersonForm, PinChoiceForm
from shopflow.people.models import Person
from shopflow.people.services import keys, staff


@only(Deed.PEOPLE)
@require_safe
def people(request: HttpRequest) -> HttpResponse:
    return render(request, "people/people.html", selectors.staff_list())


@only(Deed.PEOPLE)
@require_http_methods(["GET", "HEAD", "POST"])
def add(request: HttpRequest) -> HttpResponse:
    if request.method != "POST":
        return render(request, "people/person_add.html", {"form": PersonForm(by=_me(request))})
    form = PersonForm(request.POST, by=_me(request))
    if not form.is_valid():
        return render(request, "people/person_add.html", {"form": form}, status=422)
    made = staff.add_person(by=_me(request), **form.details())
    messages.success(
        request, f"{made.name} is here. Now a PIN for the tablets, or a password for any device."
    )
    return redirect("people:person", made.pk)


@only(Deed.PEOPLE)
@require_http_methods(["GET", "HEAD", "POST"])
def person(request: HttpRequest, pk: int) -> HttpResponse:
    someone = get_object_or_404(Person, pk=pk)
    if request.method != "POST":
        return _page(request, pk, PersonForm(instance=someone, by=_me(request)))
    staff.require_reach(_me(request), someone)
    form = PersonForm(request.POST, instance=someone, by=_me(request))
    if not form.is_valid():
        return _page(request, pk, form, status=422)
    return _keep(request, pk, form)


def _keep(request: HttpRequest, pk: int, form: PersonForm) -> HttpResponse:
    seen = request.POST.get("seen", "")
    try:
        kept = staff.change_person(person_id=pk, seen=seen, by=_me(request), **form.details())
    except ChangedMeanwhile as clash:
        now = [form.say(name, fact) for name, fact in clash.differing().items()]
        return _page(request, pk, form, status=409, clash=clash, now=now)
    except staff.LastOwner as refused:
        form.add_error("role", str(refused))
        return _page(request, pk, form, status=422)
    messages.success(request, f"{kept.name} is changed.")
    return redirect("people:people")


@sensitive_post_parameters("pin")
@only(Deed.PEOPLE)
@require_POST
def pin(request: HttpRequest, pk: int) -> HttpResponse:
    someone = get_object_or_404(Person, pk=pk)
    staff.require_reach(_me(request), someone)
    form = PinChoiceForm(request.POST)
    if not form.is_valid():
        return _page(request, pk, PersonForm(instance=someone, by=_me(request)), status=422, pin_form=form)
    keys.give_pin(person=someone, pin=form.cleaned_data["pin"], by=_me(request))
    messages.success(request, f"{someone.name} has a PIN. It works on the shop’s tablets, nowhere else.")
    return redirect("people:person", pk)


@only(Deed.PEOPLE)
@require_POST
def password(request: HttpRequest, pk: int) -> HttpResponse:
    """The new password stands on this answer and is kept nowhere."""
    someone = get_object_or_404(Person, pk=pk)
    secret = keys.hand_out_password(person=someone, by=_me(request))
    return render(request, "people/handed_out.html", {"someone": someone, "secret": secret})


@only(Deed.PEOPLE)
@require_POST
def stop(request: HttpRequest, pk: int) -> HttpResponse:
    someone = get_object_or_404(Person, pk=pk)
    try:
        staff.stop(person_id=pk, by=_me(request))
    except staff.LastOwner as refused:
        messages.error(request, str(refused))
        return redirect("people:person", pk)
    messages.success(request, f"{someone.name} opens nothing any more, on no device. The work done stays.")
    return redirect("people:people")


@only(Deed.PEOPLE)
@require_POST
def back(request: HttpRequest, pk: int) -> HttpResponse:
    someone = get_object_or_404(Person, pk=pk)
    staff.let_back_in(person_id=pk, by=_me(request))
    messages.success(request, f"{someone.name} may come in again, with PIN and password as before.")
    return redirect("people:person", pk)


@only(Deed.PEOPLE)
@require_POST
def release(request: HttpRequest, pk: int) -> HttpResponse:
    someone = get_object_or_404(Person, pk=pk)
    keys.release(person=someone, by=_me(request))
    messages.success(request, f"Every device listens to {someone.name} again.")
    return redirect("people:person", pk)


def _me(request: HttpRequest) -> Person:
    return cast(Person, request.user)


def _page(request: HttpRequest, pk: int, form: PersonForm, *, status: int = 200, **more: Any) -> HttpResponse:
    # Read anew: the form has already written what was typed into its own copy.
    someone = Person.objects.select_related("home").get(pk=pk)
    facts = {
        "someone": someone,
        "seen": staff.version_of(someone),
        "within_reach": staff.within_reach(_me(request), someone),
        "last_owner": selectors.is_last_owner(someone),
        "waiting_on": throttle.locked_devices(someone),
        "pin_form": PinChoiceForm(),
    }
    return render(request, "people/person.html", facts | {"form": form} | more, status=status)
