"""What happened to an instrument, newest first: its way through the house, moves, snags, hours, photos."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import F, Model, QuerySet, Value

from shopflow.instruments.models import Instrument
from shopflow.people.taps import LATE_AFTER
from shopflow.photos.models import Photo
from shopflow.workshop.models import HoursSpent, Move, Passage, PromiseMade, Snag, Task

PER_PAGE = 25
LATEST = 8


@dataclass(frozen=True, slots=True)
class Event:
    """One line of the story: what kind of thing, when the shop knew of it, and the row it is told from."""

    kind: str
    at: datetime
    row: Any

    @property
    def is_late(self) -> bool:
        """Whether the tap was kept on its tablet for a while before it was received."""
        return self.kind == "move" and self.row.recorded_at - self.row.tapped_at > LATE_AFTER


def story(instrument: Instrument, *, page: str = "1") -> Page[Event]:
    """One page of the story; a page beyond the last is the last. A query for each kind of line, no more."""
    events = _all_events(instrument)
    found = Paginator(events, PER_PAGE).get_page(page)
    found.object_list = _told(list(found.object_list))
    return found


def latest(instrument: Instrument) -> list[Event]:
    """The last few lines of the story."""
    return _told(list(_all_events(instrument)[:LATEST]))


@dataclass(frozen=True, slots=True)
class Told:
    """A kind of line that an app above this one tells in the story: which rows, when, and read how."""

    rows: Callable[[Instrument], QuerySet[Any]]
    at: str
    read: QuerySet[Any]


TOLD_ABOVE: dict[str, Told] = {}


def tell_too(kind: str, told: Told) -> None:
    """Called by an app above while the house is put up; its lines stand in `_story.html` under this kind."""
    TOLD_ABOVE[kind] = told


def _all_events(instrument: Instrument) -> QuerySet[Any, Any]:
    """Only kind, time and key of everything, so that any page of it is cut by the database."""
    tasks = {"task__instrument": instrument}
    parts = [
        _part("passage", Passage.objects.filter(instrument=instrument), "recorded_at"),
        _part("promise", PromiseMade.objects.filter(instrument=instrument), "recorded_at"),
        _part("move", Move.objects.filter(**tasks), "recorded_at"),
        _part("raised", Snag.objects.filter(**tasks), "raised_at"),
        _part("cleared", Snag.objects.filter(**tasks).exclude(cleared_at=None), "cleared_at"),
        _part("hours", HoursSpent.objects.filter(**tasks), "recorded_at"),
        _part("photo", Photo.objects.filter(instrument=instrument), "added_at"),
        _part("dropped", Task.objects.filter(instrument=instrument).exclude(dropped_at=None), "dropped_at"),
    ]
    parts += [_part(kind, told.rows(instrument), told.at) for kind, told in TOLD_ABOVE.items()]
    return parts[0].union(*parts[1:], all=True).order_by("-told_at", "-row_pk", "told_as")


def _part(kind: str, rows: QuerySet[Any], at: str) -> QuerySet[Any, Any]:
    told = rows.order_by().annotate(told_as=Value(kind), told_at=F(at), row_pk=F("pk"))
    return told.values_list("told_as", "told_at", "row_pk")


def _told(lines: list[tuple[str, datetime, int]]) -> list[Event]:
    keys: dict[str, list[int]] = defaultdict(list)
    for kind, _, key in lines:
        keys[kind].append(key)
    read = _READ | {kind: told.read for kind, told in TOLD_ABOVE.items()}
    rows = {kind: read[kind].in_bulk(keys[kind]) for kind in keys}
    # A line whose row went away between two queries (hours taken back) is left out.
    return [Event(kind, at, rows[kind][key]) for kind, at, key in lines if key in rows[kind]]


_SNAGS: QuerySet[Model] = Snag.objects.select_related("task__department", "owner", "raised_by", "cleared_by")
_READ: dict[str, QuerySet[Any]] = {
    "passage": Passage.objects.select_related("by"),
    "promise": PromiseMade.objects.select_related("by"),
    "move": Move.objects.select_related("task__department", "origin", "target", "by", "tablet", "undoes"),
    "raised": _SNAGS,
    "cleared": _SNAGS,
    "hours": HoursSpent.objects.select_related("task__department", "person"),
    "photo": Photo.objects.select_related("added_by"),
    "dropped": Task.objects.select_related("department", "dropped_by"),
}
