"""Deeds with the marks on a photo: place one, say better what it is, number it anew, strike it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import Max

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Crate, CrateLine
from shopflow.instruments.services import crates
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.people.taps import TapIn

from ..models import MOST_MARKS, Photo, PhotoMark

# A number that no mark bears, on the way from one to another.
NOWHERE = MOST_MARKS + 1
NEW_CRATE = "hardware"


@dataclass(frozen=True, slots=True)
class Spot:
    """Where on a picture: shares of its width from the left, of its height from the top."""

    x: float
    y: float

    def __post_init__(self) -> None:
        if not (0 <= self.x <= 1 and 0 <= self.y <= 1):
            raise Refused("That is beside the picture. Tap on it, or write 0 to 100 %.")


@transaction.atomic
def put_mark(
    *,
    photo: Photo,
    kind: str,
    at: Spot,
    by: Person,
    tap: TapIn,
    words: str = "",
    length_mm: Decimal | None = None,
) -> PhotoMark:
    """Number a place on a photo, once for this tap."""
    access.require(by, Deed.PHOTO)
    known = _known(photo, tap)
    if known is not None:
        return known
    return _put(photo, kind, at, by, tap, words=words, length_mm=length_mm)


@transaction.atomic
def put_part(
    *,
    photo: Photo,
    at: Spot,
    by: Person,
    tap: TapIn,
    line: CrateLine | None = None,
    part: crates.Part | None = None,
    crate: Crate | None = None,
) -> PhotoMark:
    """Mark where parts lie: parts of a crate, or new ones that are packed by the same tap."""
    access.require(by, Deed.PHOTO)
    known = _known(photo, tap)
    if known is not None:
        return known
    line = line or _packed(photo, part, crate, by, tap)
    if line.crate.instrument_id != photo.instrument_id:
        raise Refused(f"{line.name} is no part of {photo.instrument.number}.")
    if PhotoMark.objects.standing().filter(line=line).exists():
        raise Refused(f"{line.name} of crate {line.crate.number} is marked on a photo already.", field="line")
    return _put(photo, PhotoMark.Kind.PART, at, by, tap, words=line.name, line=line)


@transaction.atomic
def change_mark(
    *, mark: PhotoMark, number: int, words: str, length_mm: Decimal | None, by: Person
) -> PhotoMark:
    """Say better what a mark shows. A number that another one bears is exchanged with it."""
    access.require(by, Deed.PHOTO)
    mark = _standing(mark)
    if mark.kind == PhotoMark.Kind.PART:
        # What lies there is named in its crate.
        words = mark.words
    other = (
        PhotoMark.objects.standing().filter(photo=mark.photo_id, number=number).exclude(pk=mark.pk).first()
    )
    if other is not None:
        was = mark.number
        _number(other, NOWHERE)
        _number(mark, number)
        _number(other, was)
    mark.number, mark.words, mark.length_mm = number, words, length_mm
    mark.full_clean(validate_constraints=False)
    mark.save(update_fields=["number", "words", "length_mm"])
    return mark


@transaction.atomic
def strike_mark(*, mark: PhotoMark, by: Person) -> PhotoMark:
    """Take a mark off the picture; it stays on record, and its number is free. Twice does no harm."""
    access.require(by, Deed.PHOTO)
    mark = PhotoMark.objects.select_for_update(of=("self",)).get(pk=mark.pk)
    if mark.struck_at is None:
        mark.struck_at, mark.struck_by = clock.now(), by
        mark.save(update_fields=["struck_at", "struck_by"])
    return mark


def _known(photo: Photo, tap: TapIn) -> PhotoMark | None:
    """The mark that this tap placed before. Held by the photo's row, so that two at once see each other."""
    locked = Photo.objects.select_for_update(of=("self",)).get(pk=photo.pk)
    if locked.state != Photo.State.READY or locked.hidden_at is not None:
        raise Refused("This photo cannot be marked: it is not there to be looked at.")
    return PhotoMark.objects.filter(photo=photo, key=_key(tap)).first()


def _key(tap: TapIn) -> str:
    return f"{tap.client} {tap.key}"[-64:]


def _put(
    photo: Photo,
    kind: str,
    at: Spot,
    by: Person,
    tap: TapIn,
    *,
    words: str,
    length_mm: Decimal | None = None,
    line: CrateLine | None = None,
) -> PhotoMark:
    last = PhotoMark.objects.standing().filter(photo=photo).aggregate(last=Max("number"))["last"] or 0
    number = last + 1 if last < MOST_MARKS else _free_number(photo)
    mark = PhotoMark(
        photo=photo,
        number=number,
        kind=kind,
        x=round(at.x, 5),
        y=round(at.y, 5),
        words=words,
        length_mm=length_mm,
        line=line,
        by=by,
        at=clock.now(),
        key=_key(tap),
    )
    mark.full_clean(validate_constraints=False)
    mark.save()
    return mark


def _free_number(photo: Photo) -> int:
    taken = set(PhotoMark.objects.standing().filter(photo=photo).values_list("number", flat=True))
    free = next((number for number in range(1, MOST_MARKS + 1) if number not in taken), None)
    if free is None:
        raise Refused(f"A photo takes {MOST_MARKS} marks. Take another photo for the rest.")
    return free


def _packed(photo: Photo, part: crates.Part | None, crate: Crate | None, by: Person, tap: TapIn) -> CrateLine:
    if part is None:
        raise Refused("Say which part lies there.", field="words")
    if crate is None:
        crate = crates.make_crate(
            instrument=photo.instrument, set_name=NEW_CRATE, by=by, tap=tap, parts=[part]
        )
        return crate.lines.get()
    if crate.instrument_id != photo.instrument_id:
        raise Refused(f"Crate {crate.number} is none of {photo.instrument.number}.", field="crate")
    move = crates.pack(crate=crate, part=part, by=by, tap=tap)
    return move.counts.get().line


def _standing(mark: PhotoMark) -> PhotoMark:
    locked: PhotoMark = PhotoMark.objects.select_for_update(of=("self",)).get(pk=mark.pk)
    if locked.struck_at is not None:
        raise Refused(f"Mark {locked.number} was struck.")
    return locked


def _number(mark: PhotoMark, number: int) -> None:
    mark.number = number
    mark.save(update_fields=["number"])
