"""A device becomes one of the shop's tablets by a code that the office shows."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from shopflow.people import tablets
from shopflow.people.devices import device_of
from shopflow.people.forms.tablets import CodeForm
from shopflow.people.services import sign_in
from shopflow.people.throttle import TooManyTries

RULER_MM = 50


@require_http_methods(["GET", "HEAD", "POST"])
def tablet(request: HttpRequest) -> HttpResponse:
    """Which tablet this is, with a bar to lay a ruler on, and the field for a code."""
    if request.method != "POST":
        return _page(request, CodeForm())
    form = CodeForm(request.POST)
    if not form.is_valid():
        return _page(request, form, status=422)
    try:
        made, secret = sign_in.enrol_device(code=form.cleaned_data["code"], device=device_of(request))
    except (sign_in.Refused, TooManyTries) as refused:
        form.add_error("code", str(refused))
        return _page(request, form, status=429 if isinstance(refused, TooManyTries) else 422)
    response = redirect("people:sign-in")
    tablets.remember(response, secret, secure=settings.HTTPS)
    messages.success(request, f"This is now the {made.name}. Tap your name.")
    return response


def _page(request: HttpRequest, form: CodeForm, *, status: int = 200) -> HttpResponse:
    here = tablets.tablet_here(request)
    bar = round(RULER_MM * here.pixels_per_mm) if here else 0
    return render(request, "people/tablet.html", {"form": form, "bar": bar}, status=status)
