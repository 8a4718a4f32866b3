"""Marks on a photo, the parts of an instrument as they lie on its photos, and photos put aside."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shopflow.common.htmx import wants_fragment
from shopflow.instruments.forms.crates import CountForm
from shopflow.instruments.models import CrateLine, Instrument
from shopflow.instruments.selectors import instrument_or_404
from shopflow.instruments.selectors.crates import PARTS, known_outside
from shopflow.instruments.views.answers import Tapped, answer_tap
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.people.models import Person

from . import aside, marking, parts
from .mark_forms import SHOWN_WIDE, AsideForm, BoardInForm, BoardOutForm, MarkForm, PutForm, shown_high
from .models import Photo, PhotoMark


def _photo(key: uuid.UUID) -> Photo:
    return get_object_or_404(Photo.objects.select_related("instrument", "added_by"), key=key)


@require_http_methods(["GET", "HEAD", "POST"])
def marks(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """The picture, large, to number places on it."""
    if request.method != "POST":
        return _marks_page(request, key)
    return answer_tap(
        request,
        form=lambda data, _: PutForm(data, photo=_photo(key)),
        deed=lambda it: _put(it, _photo(key)),
        again=lambda *, status, refusal, form: _marks_page(request, key, status=status, put=form),
        on=lambda: reverse("photos:marks", args=[key]),
        right=Deed.PHOTO,
    )


def _put(it: Tapped, photo: Photo) -> str:
    common: dict[str, Any] = {"photo": photo, "at": it["at"], "by": it.by, "tap": it.tap}
    if it["kind"] == PhotoMark.Kind.PART:
        new = None if it["line"] else it.form.part
        mark = marking.put_part(line=it["line"], part=new, crate=it["crate"], **common)
    else:
        mark = marking.put_mark(kind=it["kind"], words=it["words"], length_mm=it["length_mm"], **common)
    return f"{mark.get_kind_display().capitalize()} {mark.number} is marked."


@require_POST
def mark(request: HttpRequest, key: uuid.UUID, pk: int) -> HttpResponse:
    """Its number, its words, its length."""

    def deed(it: Tapped) -> str:
        changed = marking.change_mark(mark=_mark(key, pk), by=it.by, **it.form.cleaned_data)
        return f"Mark {changed.number} is changed."

    return _about_mark(request, key, pk, lambda data, _: MarkForm(data, auto_id=f"mark-{pk}-%s"), deed)


@require_POST
def strike(request: HttpRequest, key: uuid.UUID, pk: int) -> HttpResponse:
    def deed(it: Tapped) -> str:
        return f"Mark {marking.strike_mark(mark=_mark(key, pk), by=it.by).number} is struck."

    return _about_mark(request, key, pk, lambda data, _: Form(data), deed)


def _about_mark(
    request: HttpRequest,
    key: uuid.UUID,
    pk: int,
    form: Callable[[QueryDict, Person], Form],
    deed: Callable[[Tapped], str],
) -> HttpResponse:
    def read(data: QueryDict, by: Person) -> Form:
        _mark(key, pk)
        return form(data, by)

    return answer_tap(
        request,
        form=read,
        deed=deed,
        again=lambda *, status, refusal, form: _marks_page(
            request, key, status=status, refusal=refusal, typed={pk: form}
        ),
        on=lambda: reverse("photos:marks", args=[key]),
        right=Deed.PHOTO,
    )


def _mark(key: uuid.UUID, pk: int) -> PhotoMark:
    return get_object_or_404(PhotoMark, pk=pk, photo__key=key)


@only(Deed.SEE_SHOP)
def _marks_page(
    request: HttpRequest,
    key: uuid.UUID,
    *,
    status: int = 200,
    refusal: str = "",
    put: Form | None = None,
    typed: dict[int, Form | None] | None = None,
) -> HttpResponse:
    photo = _photo(key)
    shown = parts.marked(photo)
    last = shown.marks[-1].mark.kind if shown.marks else PhotoMark.Kind.CRACK
    context = {
        "photo": photo,
        "instrument": photo.instrument,
        "shown": shown,
        "forms": [(placed, _mark_form(placed.mark, typed or {})) for placed in shown.marks],
        "put": put or PutForm(photo=photo, initial={"kind": request.GET.get("kind", last)}),
        "shown_wide": SHOWN_WIDE,
        "shown_high": shown_high(photo),
        "refusal": refusal,
        "may_mark": access.may(request.user, Deed.PHOTO) and photo.hidden_at is None,
        "part_names": PARTS,
    }
    return render(request, "photos/marks.html", context, status=status)


def _mark_form(mark: PhotoMark, typed: dict[int, Form | None]) -> Form:
    said = {"number": mark.number, "words": mark.words, "length_mm": mark.length_mm}
    return typed.get(mark.pk) or MarkForm(initial=said, auto_id=f"mark-{mark.pk}-%s")


@only(Deed.SEE_SHOP)
@require_safe
def parts_of(request: HttpRequest, number: str) -> HttpResponse:
    """All parts of an instrument as they lie on its photos: a hole shows what is missing."""
    return _parts_page(request, instrument_or_404(number))


@require_POST
def parts_out(request: HttpRequest, number: str) -> HttpResponse:
    return _count(request, number, BoardOutForm, parts.count_out, "out", lambda it: {"to": it["to"]})


@require_POST
def parts_in(request: HttpRequest, number: str) -> HttpResponse:
    return _count(
        request, number, BoardInForm, parts.count_in, "back", lambda it: {"rest_follows": it["rest_follows"]}
    )


def _count(
    request: HttpRequest,
    number: str,
    form_class: type[Any],
    deed: Callable[..., str],
    slot: str,
    more: Callable[[Tapped], dict[str, Any]],
) -> HttpResponse:
    def sent() -> list[CrateLine]:
        lines = parts.parts_of(instrument_or_404(number)).lines
        return [line for line in lines if f"line-{line.pk}" in request.POST]

    def done(it: Tapped) -> str:
        return deed(lines=sent(), counts=it.form.counts, by=it.by, tap=it.tap, **it.form.names, **more(it))

    return answer_tap(
        request,
        form=lambda data, by: form_class(data, by=by, lines=sent(), auto_id=f"{slot}_%s"),
        deed=done,
        again=lambda *, status, refusal, form: _parts_page(
            request, instrument_or_404(number), status=status, refusal=refusal, **{slot: form}
        ),
        on=lambda: reverse("photos:parts", args=[number]),
    )


def _parts_page(
    request: HttpRequest,
    instrument: Instrument,
    *,
    status: int = 200,
    refusal: str = "",
    **typed: CountForm | Form | None,
) -> HttpResponse:
    board = parts.parts_of(instrument)
    here = {f"line-{line.pk}": line.here for line in board.to_go_out} | {"seen": 0}
    by = me(request)
    context = {
        "instrument": instrument,
        "board": board,
        "forms": {
            "out": BoardOutForm(by=by, lines=board.to_go_out, initial=here, auto_id="out_%s"),
            "back": BoardInForm(by=by, lines=board.to_come_in, initial={"seen": 0}, auto_id="back_%s"),
        }
        | {slot: form for slot, form in typed.items() if form},
        "photos": Photo.objects.ready().filter(instrument=instrument).order_by("-added_at")[:24],
        "outside": known_outside(),
        "refusal": refusal,
        "may_act": access.may(request.user, Deed.CRATES),
        "may_snag": access.may(request.user, Deed.SNAG),
    }
    page = "_parts" if wants_fragment(request) else "parts"
    return render(request, f"photos/{page}.html", context, status=status)


@only(Deed.PHOTO)
@require_POST
def put_aside(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    photo, form = _photo(key), AsideForm(request.POST)
    if not form.is_valid():
        return render(request, "photos/put_aside.html", {"photo": photo, "form": form}, status=422)
    aside.put_aside(photo=photo, by=me(request), reason=form.cleaned_data["reason"])
    messages.success(request, "The photo is put aside; it stays on record.")
    return redirect("photos:photo", key)


@only(Deed.PHOTO)
@require_POST
def bring_back(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    aside.bring_back(photo=_photo(key), by=me(request))
    messages.success(request, "The photo is shown again.")
    return redirect("photos:photo", key)


@only(Deed.SEE_SHOP)
@require_safe
def contact_sheet(request: HttpRequest, number: str) -> HttpResponse:
    """All photos of an instrument to print, twelve to a page."""
    instrument = instrument_or_404(number)
    photos = list(Photo.objects.ready().filter(instrument=instrument).select_related("added_by"))
    pages = [photos[at : at + PER_PAGE] for at in range(0, len(photos), PER_PAGE)]
    context = {"instrument": instrument, "pages": pages, "count": len(photos)}
    return render(request, "photos/contact_sheet.html", context)


PER_PAGE = 12
