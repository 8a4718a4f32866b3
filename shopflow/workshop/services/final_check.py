"""The final check: what it has to rest on, and the one door through which it is signed.

A tick is no proof. What was done in this stay says what has to be there: photos of after, readings again of
what was read before, the sample where a finish was renewed, a whole count where there are crates. Parts of
the house above this one add what they know of (`demand`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Max
from django.urls import reverse

from shopflow.catalogue.models import Operation
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors.crates import missing_of
from shopflow.instruments.services.safety import refuse_unanswered
from shopflow.photos.models import Photo
from shopflow.workshop.models import Passage
from shopflow.workshop.selectors.stay import Stay, stay_of

# What the catalogue says that work leaves behind: proof that the piano may go, a finish built up anew.
PROVEN = ("leave", "proven")
SAMPLE = ("sample", "signed")
NEW_FINISH = (("finish", "built"), ("finish", "clear"))
MOST_PARTS_TOLD = 4


@dataclass(frozen=True, slots=True)
class Lacking:
    """Something that has to be there and is not: the line of the check list, the words, where to give it."""

    line: str
    words: str
    where: str

    def __str__(self) -> str:
        return self.words


Demand = Callable[[Instrument, Stay], Iterable[Lacking]]


def lacking(instrument: Instrument) -> list[Lacking]:
    """All that the final check of this stay still lacks."""
    stay = stay_of(instrument)
    return [one for ask in _demands for one in ask(instrument, stay)]


def demand(ask: Demand) -> Demand:
    """Have this asked at the final check too."""
    if ask not in _demands:
        _demands.append(ask)
    return ask


def is_final_check(operation: Operation | None) -> bool:
    return operation is not None and leaves(operation, PROVEN)


def leaves(operation: Operation, *what: tuple[str, str]) -> bool:
    """Whether this work leaves any of these lines of the piano's state at this level."""
    left = operation.state.get("leaves", {})
    return any(left.get(line) == level for line, level in what)


def was_left(stay: Stay, *what: tuple[str, str]) -> bool:
    """Whether work of this stay that is signed left it so."""
    return any(leaves(task.operation, *what) for task in stay.signed_tasks if task.operation)


def unanswered_for(instrument: Instrument) -> str:
    """What is unsafe and open with nobody answering for it, in words; empty where there is nothing."""
    try:
        refuse_unanswered(instrument, before="Unsafe, so the final check cannot be signed")
    except Refused as refused:
        return refused.message
    return ""


def came_back(instrument: Instrument) -> datetime | None:
    """Since when it is here once more; None for its first stay, when all that was ever taken counts."""
    returns = Passage.objects.filter(instrument=instrument, kind=Passage.Kind.RETURNED).order_by()
    since: datetime | None = returns.aggregate(latest=Max("recorded_at"))["latest"]
    return since


def photos_after(instrument: Instrument, stay: Stay) -> Iterable[Lacking]:
    """Asked of every piano: nobody remembers later how it went out."""
    photos = Photo.objects.shown().filter(instrument=instrument, role=Photo.Role.AFTER)
    photos = photos.exclude(state=Photo.State.REFUSED)
    since = came_back(instrument)
    if not (photos.filter(added_at__gte=since) if since else photos).exists():
        words = "No photo of after the work: take one under “Photos” and call it “after”."
        yield Lacking("photos", words, reverse("workshop:photos", args=[instrument.number]))


def sample_signed(instrument: Instrument, stay: Stay) -> Iterable[Lacking]:
    """Where a finish was built up new, what it was to look like was agreed before."""
    if was_left(stay, *NEW_FINISH) and not was_left(stay, SAMPLE):
        words = (
            "The finish is new and no sample of it is signed: sign the sample’s task, or add it to the work."
        )
        yield Lacking("sample", words, reverse("workshop:work", args=[instrument.number]))


def crates_counted(instrument: Instrument, stay: Stay) -> Iterable[Lacking]:
    """Where there are crates: nothing missing, nothing out, nothing left lying in them."""
    missing = missing_of(instrument)
    told = missing.words + [f"still packed: crate {crate.number}" for crate in missing.packed]
    if told:
        more = "; …" if len(told) > MOST_PARTS_TOLD else ""
        words = (
            f"The count of its parts is not whole: {'; '.join(told[:MOST_PARTS_TOLD])}{more}. Count it in."
        )
        yield Lacking("parts", words, reverse("instruments:crates", args=[instrument.number]))


_demands: list[Demand] = [photos_after, sample_signed, crates_counted]
