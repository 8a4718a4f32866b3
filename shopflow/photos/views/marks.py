"""Marks on a photo: placed by a tap, said better, numbered anew, struck."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from typing import Any

from django.forms import Form
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from shopflow.instruments.selectors.crates import PARTS
from shopflow.instruments.views.answers import Tapped, answer_tap
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.door import only
from shopflow.people.models import Person

from .. import services
from ..forms.marks import SHOWN_WIDE, MarkForm, PutForm, shown_high
from ..models import Photo, PhotoMark
from ..selectors import parts


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
        mark = services.put_part(line=it["line"], part=new, crate=it["crate"], **common)
    else:
        mark = services.put_mark(kind=it["kind"], words=it["words"], length_mm=it["length_mm"], **common)
    return f"{mark.get_kind_display().capitalize()} {mark.number} is marked."


@require_POST
def mark(request: HttpRequest, key: uuid.UUID, pk: int) -> HttpResponse:
    """Its number, its words, its length."""

    def deed(it: Tapped) -> str:
        changed = services.change_mark(mark=_mark(key, pk), by=it.by, **it.form.cleaned_data)
        return f"Mark {changed.number} is changed."

    return _about_mark(request, key, pk, lambda data, _: MarkForm(data, auto_id=f"mark-{pk}-%s"), deed)


@require_POST
def strike(request: HttpRequest, key: uuid.UUID, pk: int) -> HttpResponse:
    def deed(it: Tapped) -> str:
        return f"Mark {services.strike_mark(mark=_mark(key, pk), by=it.by).number} is struck."

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
