"""The parts of an instrument as they lie on its photos: which are here, which are out, which are missing."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from shopflow.common.materials import n
from shopflow.instruments.models import CrateLine, Instrument
from shopflow.instruments.selectors.crates import Gone, gone_of

from ..models import Photo, PhotoMark

_DISC = "M0 -1A1 1 0 0 1 0 1A1 1 0 0 1 0 -1Z"
_SHAPES: dict[str, str] = {
    PhotoMark.Kind.CRACK: _DISC,
    PhotoMark.Kind.RIB: "M-.95 -.95H.95V.95H-.95Z",
    PhotoMark.Kind.PART: "M-.6 -1H.6L1 -.6V.6L.6 1H-.6L-1 .6V-.6Z",
    PhotoMark.Kind.OTHER: "M0 -1.25L1.25 0L0 1.25L-1.25 0Z",
}


@dataclass(frozen=True, slots=True)
class Placed:
    """One mark as it is drawn, and what is known of the parts that lie there."""

    mark: PhotoMark
    gone: Gone | None = None

    @property
    def line(self) -> CrateLine | None:
        return self.mark.line

    @property
    def state(self) -> str:
        """How the mark is drawn: filled where something lies, hollow where nothing or less does."""
        if self.line is None:
            return "plain"
        if self.line.missing:
            return "missing"
        return "away" if self.line.away else "here"

    @property
    def place(self) -> str:
        """Where on the picture, in its own pixels."""
        photo = self.mark.photo
        return f"translate({n(self.mark.x * photo.width)} {n(self.mark.y * photo.height)})"

    @property
    def shape(self) -> str:
        """The kind of mark by its shape, never by colour alone; of radius 1."""
        return _SHAPES[self.mark.kind]


@dataclass(frozen=True, slots=True)
class Marked:
    """A photo with its marks."""

    photo: Photo
    marks: list[Placed]

    @property
    def size(self) -> str:
        """How large a mark is in the picture's pixels."""
        return f"scale({n(max(self.photo.width, self.photo.height) / 48)})"


@dataclass(frozen=True, slots=True)
class PartsOnPhotos:
    """All photos of an instrument on which parts lie."""

    photos: list[Marked]

    @property
    def lines(self) -> list[CrateLine]:
        return [placed.line for shown in self.photos for placed in shown.marks if placed.line]

    @property
    def to_go_out(self) -> list[CrateLine]:
        return [line for line in self.lines if line.here]

    @property
    def to_come_in(self) -> list[CrateLine]:
        return [line for line in self.lines if line.gone]


def marked(photo: Photo) -> Marked:
    marks = PhotoMark.objects.standing().filter(photo=photo).select_related("line__crate", "by")
    return _marked(photo, list(marks.order_by("number")))


def parts_of(instrument: Instrument) -> PartsOnPhotos:
    """In four queries, however many photos and parts."""
    marks = PhotoMark.objects.standing().filter(
        photo__in=Photo.objects.ready().filter(instrument=instrument), kind=PhotoMark.Kind.PART
    )
    together: dict[Photo, list[PhotoMark]] = defaultdict(list)
    for mark in marks.select_related("photo", "line__crate", "by").order_by(
        "photo__added_at", "photo", "number"
    ):
        together[mark.photo].append(mark)
    gone = _gone_by_line([mark for marks in together.values() for mark in marks])
    return PartsOnPhotos([_marked(photo, marks, gone) for photo, marks in together.items()])


def _marked(photo: Photo, marks: list[PhotoMark], gone: dict[int, Gone] | None = None) -> Marked:
    gone = _gone_by_line(marks) if gone is None else gone
    for mark in marks:
        mark.photo = photo
    return Marked(photo, [Placed(mark, gone.get(mark.line_id or 0)) for mark in marks])


def _gone_by_line(marks: list[PhotoMark]) -> dict[int, Gone]:
    return {one.line.pk: one for one in gone_of([mark.line for mark in marks if mark.line])}
