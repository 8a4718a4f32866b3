"""A person's own page: who one is here, a new password, a new PIN."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_POST, require_safe

from shopflow.people import presence
from shopflow.people.devices import device_of
from shopflow.people.forms.hours import WEEKDAYS
from shopflow.people.forms.own import OwnPasswordForm, OwnPinForm
from shopflow.people.models import Person
from shopflow.people.services import keys
from shopflow.people.services.sign_in import Refused
from shopflow.people.throttle import TooManyTries


@login_required
@require_safe
def me(request: HttpRequest) -> HttpResponse:
    return _page(request)


@sensitive_post_parameters("now", "new")
@login_required
@require_POST
def password(request: HttpRequest) -> HttpResponse:
    person = _me(request)
    form = OwnPasswordForm(request.POST, person=person)
    if not form.is_valid():
        return _page(request, status=422, password_form=form)
    refusal = _refusal(request, form, pin=False)
    if refusal:
        return _page(request, status=refusal, password_form=form)
    keys.choose_password(person=person, password=form.cleaned_data["new"])
    presence.only_here(request, person)
    messages.success(request, "Your password is changed. Wherever else you were signed in, you are not now.")
    return redirect("people:me")


@sensitive_post_parameters("now", "pin")
@login_required
@require_POST
def pin(request: HttpRequest) -> HttpResponse:
    person = _me(request)
    form = OwnPinForm(request.POST, person=person)
    if not form.is_valid():
        return _page(request, status=422, pin_form=form)
    refusal = _refusal(request, form, pin=person.by_pin)
    if refusal:
        return _page(request, status=refusal, pin_form=form)
    keys.choose_pin(person=person, pin=form.cleaned_data["pin"])
    presence.only_here(request, person)
    messages.success(request, "Your PIN is changed.")
    return redirect("people:me")


def _me(request: HttpRequest) -> Person:
    return cast(Person, request.user)


def _refusal(request: HttpRequest, form: Form, *, pin: bool) -> int:
    """0 when the key typed once more is right, else the status to answer with; the form then says why."""
    try:
        keys.check_own_key(
            person=_me(request), typed=form.cleaned_data["now"], pin=pin, device=device_of(request)
        )
    except (Refused, TooManyTries) as refused:
        form.add_error("now", str(refused))
        return 429 if isinstance(refused, TooManyTries) else 422
    return 0


def _page(request: HttpRequest, *, status: int = 200, **forms: Any) -> HttpResponse:
    person = _me(request)
    fresh = {
        "password_form": OwnPasswordForm(person=person, auto_id="password_%s"),
        "pin_form": OwnPinForm(person=person, auto_id="pin_%s"),
        "days": [(WEEKDAYS[day.weekday], day.hours) for day in person.working_days.all()],
    }
    return render(request, "people/me.html", fresh | forms, status=status)
