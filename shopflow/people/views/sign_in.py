"""In, over to someone else, and out."""

from __future__ import annotations

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shopflow.people import held, left_behind, next_page, presence, selectors
from shopflow.people.devices import device_of
from shopflow.people.forms.sign_in import PasswordSignInForm, PinForm
from shopflow.people.models import Person, Tablet
from shopflow.people.services import sign_in as services
from shopflow.people.tablets import tablet_here
from shopflow.people.throttle import TooManyTries

AS_A_HAND = (
    "A PIN gives a bench hand’s rights. For the office’s pages sign in with your password (Someone else)."
)


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """On a shop tablet the names; elsewhere, or on request, name and password."""
    if request.method == "POST":
        return _with_password(request)
    tablet = tablet_here(request)
    if tablet and request.GET.get("with") != "password":
        return _names(request, tablet)
    return _password_page(request, PasswordSignInForm())


@require_safe
def switch(request: HttpRequest) -> HttpResponse:
    """The names again. Whoever is here stays signed in until the next person's PIN is right."""
    tablet = tablet_here(request)
    if tablet:
        return _names(request, tablet)
    return redirect(next_page.with_next(reverse("people:sign-in"), next_page.wanted(request)))


@sensitive_post_parameters("pin")
@require_http_methods(["GET", "HEAD", "POST"])
def pin(request: HttpRequest, pk: int) -> HttpResponse:
    if not tablet_here(request):
        return _not_a_tablet(request, pk)
    person = get_object_or_404(Person.objects.working(), pk=pk)
    if request.method != "POST":
        return _pin_page(request, PinForm(), person)
    form = PinForm(request.POST)
    if not form.is_valid():
        return _pin_page(request, form, person, status=422)
    try:
        services.check_pin(person=person, pin=form.cleaned_data["pin"], device=device_of(request))
    except TooManyTries as locked:
        return _pin_page(request, _refuse(form, locked), person, status=429)
    except services.Refused as refused:
        return _pin_page(request, _refuse(form, refused), person, status=422)
    return _come_in(request, person, by_pin=True)


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End it here and on the server. The browser's storage is left alone: unsent taps wait in it."""
    left_behind.note(request)
    presence.end(request)
    response = redirect("people:sign-in")
    response.headers["Clear-Site-Data"] = '"cache"'
    return response


def _with_password(request: HttpRequest) -> HttpResponse:
    form = PasswordSignInForm(request.POST)
    if not form.is_valid():
        return _password_page(request, form, status=422)
    try:
        person = services.check_password(request=request, device=device_of(request), **form.cleaned_data)
    except TooManyTries as locked:
        return _password_page(request, _refuse(form, locked), status=429)
    except services.Refused as refused:
        return _password_page(request, _refuse(form, refused), status=422)
    return _come_in(request, person, by_pin=False)


def _come_in(request: HttpRequest, person: Person, *, by_pin: bool) -> HttpResponse:
    then = next_page.after(request)
    left_behind.note(request)
    presence.begin(request, person, by_pin=by_pin)
    if held.waiting_for(request, person):
        then = reverse("people:not-sent-yet")
    if by_pin and person.is_office:
        messages.info(request, AS_A_HAND)
    return redirect(then)


def _not_a_tablet(request: HttpRequest, pk: int) -> HttpResponse:
    reason = services.off_a_tablet(person_id=pk, device=device_of(request))
    return _password_page(request, PasswordSignInForm(), status=403, refused=str(reason))


def _refuse(form: Form, reason: Exception) -> Form:
    form.add_error(None, str(reason))
    return form


def _names(request: HttpRequest, tablet: Tablet) -> HttpResponse:
    near, others = selectors.names_for(tablet)
    facts = {"near": near, "others": others, "next": next_page.wanted(request)}
    return render(request, "people/names.html", facts)


def _pin_page(request: HttpRequest, form: Form, person: Person, *, status: int = 200) -> HttpResponse:
    facts = {"form": form, "who": person, "next": next_page.wanted(request), "digits": "123456789"}
    return render(request, "people/pin.html", facts, status=status)


def _password_page(request: HttpRequest, form: Form, *, status: int = 200, refused: str = "") -> HttpResponse:
    facts = {"form": form, "refused": refused, "next": next_page.wanted(request)}
    return render(request, "people/password.html", facts, status=status)
