"""Crates: find one by its number, look into it, pack, move and count; and all crates of an instrument."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.forms import Form
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shopflow.common.htmx import wants_fragment
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.people.models import Person

from ..crate_words import words_of
from ..forms import crates as forms
from ..models import Crate, CrateLine, CrateMove
from ..selectors import crates as ask
from ..selectors import instrument_or_404
from ..services import crates as deeds
from .answers import Tapped, answer_tap

NO_SUCH_NUMBER = "That is no number of a crate. Type the number on its tag, such as 31, or scan the tag."


@only(Deed.SEE_SHOP)
@require_safe
def find(request: HttpRequest) -> HttpResponse:
    """Type or scan a number; the answer is the crate itself."""
    if "number" not in request.GET:
        return _find_page(request, forms.FindForm())
    form = forms.FindForm(request.GET)
    number = ask.number_in(form.cleaned_data["number"]) if form.is_valid() else None
    if number and Crate.objects.filter(number=number).exists():
        return redirect("instruments:crate", number)
    if form.is_valid():
        form.add_error("number", f"There is no crate {number}." if number else NO_SUCH_NUMBER)
    return _find_page(request, form, status=422)


def _find_page(request: HttpRequest, form: Form, *, status: int = 200) -> HttpResponse:
    context = {"form": form, "crates": ask.crates_in_use()}
    return render(request, "instruments/find_crate.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
def of_instrument(request: HttpRequest, number: str) -> HttpResponse:
    """All crates of one instrument, what is missing of it, and a new crate."""
    if request.method != "POST":
        return _list(request, number)
    return answer_tap(
        request,
        form=lambda data, _: forms.MakeForm(data),
        deed=lambda it: _make(it, number),
        again=lambda *, status, refusal, form: _list(
            request, number, status=status, refusal=refusal, form=form
        ),
        on=lambda: reverse("instruments:crates", args=[number]),
    )


def _make(it: Tapped, number: str) -> str:
    crate = deeds.make_crate(
        instrument=instrument_or_404(number), by=it.by, tap=it.tap, **it.form.cleaned_data
    )
    return f"Crate {crate.number} is made for {crate.instrument.number}. Now print its tag."


@only(Deed.SEE_SHOP)
def _list(
    request: HttpRequest, number: str, *, status: int = 200, refusal: str = "", form: Form | None = None
) -> HttpResponse:
    instrument = instrument_or_404(number)
    context = {
        "instrument": instrument,
        "rows": ask.crates_of(instrument),
        "missing": ask.missing_of(instrument),
        "moves": ask.latest_moves(instrument),
        "form": form or forms.MakeForm(),
        "next_number": deeds.next_number(),
        "refusal": refusal,
        "may_pack": access.may(request.user, Deed.CRATES),
        "may_snag": access.may(request.user, Deed.SNAG),
        "known": {"sets": ask.SETS, "parts": ask.PARTS, "places": ask.known_places()},
    }
    return render(request, "instruments/crates.html", context, status=status)


@only(Deed.SEE_SHOP)
@require_safe
def show(request: HttpRequest, crate: int) -> HttpResponse:
    """One crate, for hands with gloves."""
    return _page(request, ask.crate_or_404(crate))


def _page(
    request: HttpRequest, shown: Crate, *, status: int = 200, refusal: str = "", **typed: Form | None
) -> HttpResponse:
    opened = ask.open_crate_page(shown)
    context = {
        "opened": opened,
        "refusal": refusal,
        "forms": _fresh_forms(opened, request.user) | {name: form for name, form in typed.items() if form},
        "may_act": access.may(request.user, Deed.CRATES),
        "may_snag": access.may(request.user, Deed.SNAG),
        "known": {"parts": ask.PARTS, "places": ask.known_places(), "outside": ask.known_outside()},
    }
    page = "_crate" if wants_fragment(request) else "crate"
    return render(request, f"instruments/{page}.html", context, status=status)


def _fresh_forms(opened: ask.OpenCrate, viewer: Person) -> dict[str, Form]:
    """Going out, the crate says how many; coming in and counting over, the hand does."""
    seen: dict[str, Any] = {"seen": opened.seen}
    all_here = {f"line-{line.pk}": line.here for line in opened.to_go_out}
    return {
        "pack": forms.PackForm(auto_id="pack_%s"),
        "move": forms.WhereForm(auto_id="move_%s"),
        "out": forms.OutForm(by=viewer, lines=opened.to_go_out, initial=seen | all_here, auto_id="out_%s"),
        "back": forms.InForm(by=viewer, lines=opened.to_come_in, initial=seen, auto_id="in_%s"),
        "over": forms.OverForm(lines=opened.to_count, initial=seen, auto_id="over_%s"),
        "right": forms.RightForm(auto_id="right_%s"),
    }


Deeds = Callable[[Crate, Tapped], CrateMove]
MakeForm = Callable[[Crate, QueryDict, Person], Form]


def _tap(request: HttpRequest, crate: int, make: MakeForm, deed: Deeds, *, slot: str = "") -> HttpResponse:
    """One tap at this crate."""

    def read(data: QueryDict, by: Person) -> Form:
        return make(ask.crate_or_404(crate), data, by)

    def done(it: Tapped) -> str:
        return words_of(deed(ask.crate_or_404(crate), it))

    def again(*, status: int, refusal: str, form: Form | None) -> HttpResponse:
        typed = {slot: form} if slot else {}
        return _page(request, ask.crate_or_404(crate), status=status, refusal=refusal, **typed)

    return answer_tap(
        request, form=read, deed=done, again=again, on=lambda: reverse("instruments:crate", args=[crate])
    )


@require_POST
def pack(request: HttpRequest, crate: int) -> HttpResponse:
    return _tap(
        request,
        crate,
        lambda _, data, __: forms.PackForm(data, auto_id="pack_%s"),
        lambda it, said: deeds.pack(crate=it, part=said.form.part, by=said.by, tap=said.tap),
        slot="pack",
    )


@require_POST
def move(request: HttpRequest, crate: int) -> HttpResponse:
    return _tap(
        request,
        crate,
        lambda _, data, __: forms.WhereForm(data, auto_id="move_%s"),
        lambda it, said: deeds.move_crate(crate=it, by=said.by, tap=said.tap, **said.form.cleaned_data),
        slot="move",
    )


@require_POST
def opened(request: HttpRequest, crate: int) -> HttpResponse:
    return _tap(
        request,
        crate,
        lambda _, data, __: Form(data),
        lambda it, said: deeds.open_crate(crate=it, by=said.by, tap=said.tap),
    )


@require_POST
def emptied(request: HttpRequest, crate: int) -> HttpResponse:
    return _tap(
        request,
        crate,
        lambda _, data, __: forms.SeenForm(data),
        lambda it, said: deeds.empty_crate(crate=it, by=said.by, tap=said.tap, seen=said["seen"]),
    )


@require_POST
def out(request: HttpRequest, crate: int) -> HttpResponse:
    return _tap(request, crate, _out_form, _out, slot="out")


def _out_form(it: Crate, data: QueryDict, by: Person) -> Form:
    return forms.OutForm(data, by=by, lines=_lines(it), auto_id="out_%s")


def _out(it: Crate, said: Tapped) -> CrateMove:
    form = said.form
    return deeds.count_out(
        crate=it, counts=form.counts, to=said["to"], by=said.by, tap=said.tap, seen=said["seen"], **form.names
    )


@require_POST
def back(request: HttpRequest, crate: int) -> HttpResponse:
    return _tap(request, crate, _in_form, _in, slot="back")


def _in_form(it: Crate, data: QueryDict, by: Person) -> Form:
    return forms.InForm(data, by=by, lines=_sent(it, data), auto_id="in_%s")


def _in(it: Crate, said: Tapped) -> CrateMove:
    form = said.form
    return deeds.count_in(
        crate=it,
        counts=form.counts,
        by=said.by,
        tap=said.tap,
        seen=said["seen"],
        rest_follows=said["rest_follows"],
        **form.names,
    )


@require_POST
def over(request: HttpRequest, crate: int) -> HttpResponse:
    return _tap(request, crate, _over_form, _over, slot="over")


def _over_form(it: Crate, data: QueryDict, _: Person) -> Form:
    return forms.OverForm(data, lines=_sent(it, data), auto_id="over_%s")


def _over(it: Crate, said: Tapped) -> CrateMove:
    return deeds.count_over(
        crate=it,
        counts=said.form.counts,
        by=said.by,
        tap=said.tap,
        seen=said["seen"],
        reason=said["reason"],
    )


@require_POST
def right(request: HttpRequest, crate: int, pk: int) -> HttpResponse:
    """How many of a kind really belong in this crate."""

    def deed(it: Crate, said: Tapped) -> CrateMove:
        line = get_object_or_404(CrateLine, pk=pk, crate=it)
        return deeds.put_right(line=line, by=said.by, tap=said.tap, **said.form.cleaned_data)

    def read(it: Crate, data: QueryDict, _: Person) -> Form:
        get_object_or_404(CrateLine, pk=pk, crate=it)
        return forms.RightForm(data, auto_id="right_%s")

    return _tap(request, crate, read, deed)


def _lines(it: Crate) -> list[CrateLine]:
    return list(it.lines.all())


def _sent(it: Crate, data: QueryDict) -> list[CrateLine]:
    """The parts that the page asked to count; a crate that changed meanwhile is told by its last counting."""
    return [line for line in _lines(it) if f"line-{line.pk}" in data]
