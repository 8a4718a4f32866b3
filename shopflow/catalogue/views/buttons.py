"""The small buttons of every list: up, down, retire, bring back."""

from __future__ import annotations

from collections.abc import Callable

from django.http import Http404, HttpRequest

from shopflow.catalogue.forms.routes import PlacesForm
from shopflow.common.refusals import Refused

from .answers import me

Deed = Callable[..., object]


def places(request: HttpRequest) -> int:
    form = PlacesForm(request.POST)
    if not form.is_valid():
        raise Refused("Say whether it should go up or down.")
    return int(form.cleaned_data["places"])


def press(
    request: HttpRequest, button: str, *, label: str, retire: Deed, bring_back: Deed, move: Deed | None = None
) -> str:
    """Do what this button says and tell it; 404 for a button that is not there."""
    if button == "move" and move:
        move(places=places(request), by=me(request))
        return f"“{label}” has moved."
    if button == "retire":
        retire(by=me(request))
        return f"“{label}” is retired. Work that is laid out can go on."
    if button == "bring-back":
        bring_back(by=me(request))
        return f"“{label}” is back."
    raise Http404
