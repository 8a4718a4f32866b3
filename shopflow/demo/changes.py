"""Change orders of the demo: one that waits, one overdue, one done the cheaper way, one left as found."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.core.files.uploadedfile import SimpleUploadedFile

from shopflow.catalogue.models import ComponentGroup, FindingKind
from shopflow.common import clock
from shopflow.customers.services import links
from shopflow.instruments.models import Finding, Instrument, Survey
from shopflow.instruments.services import survey as surveys
from shopflow.offers.models import ChangeOrder
from shopflow.offers.selectors.touched import touched_by
from shopflow.offers.services import answers, changes
from shopflow.people.models import Person
from shopflow.photos.models import Photo
from shopflow.photos.services import add_photo, choose_for_customer

from .close_ups import close_up


@dataclass(frozen=True, slots=True)
class Surprise:
    """What came to light, how many days ago it was asked, how long one had, and what was answered."""

    kinds: tuple[str, ...]
    words: str
    why_hidden: str
    picture: str
    asked: int
    within: int
    answer: str = ""
    answered: int = 0


SURPRISES = (
    Surprise(
        ("br1", "br2"),
        "three splits along the pins, the longest 45 mm",
        "The strings lay over it, and their pull kept the splits closed.",
        "crack",
        asked=3,
        within=7,
    ),
    Surprise(
        ("da2", "da1"),
        "wires worn thin where they pass the guide",
        "It shows only with the dampers off.",
        "hammers",
        asked=16,
        within=7,
    ),
    Surprise(
        ("sb2", "sb1"),
        "open 1 mm over 300 mm beside the fourth rib",
        "Old glue and dust hid it until the board was clean.",
        "crack",
        asked=30,
        within=7,
        answer="cheaper",
        answered=26,
    ),
    Surprise(
        ("hw1", "ca1", "pl3"),
        "worn through to the base metal on the pedals and hinges",
        "It lay under a thick old lacquer that came off with the cleaning.",
        "veneer",
        asked=24,
        within=10,
        answer="leave",
        answered=21,
    ),
)


def surprise_owners(*, rng: random.Random, by: Person) -> None:
    """Each surprise on a piano under way whose open work it touches; one surprise a piano."""
    taken: set[int] = set()
    for surprise in SURPRISES:
        found = _piano_for(surprise, taken)
        if found is not None:
            piano, kind = found
            taken.add(piano.pk)
            _ask(surprise, piano, kind, rng, by)
            for photo in piano.photos.all():
                choose_for_customer(photo=photo, chosen=True, by=by)


def _piano_for(surprise: Surprise, taken: set[int]) -> tuple[Instrument, FindingKind] | None:
    """Under way for longer than the question is old; better one whose work would have to stop."""
    arrived = clock.today() - timedelta(days=surprise.asked + 10)
    here = Instrument.objects.in_the_house().filter(finished_on=None, arrived_on__lte=arrived)
    begun = here.filter(tasks__stage__kind="signed").exclude(pk__in=taken).distinct().order_by("number")
    # A survey that somebody is in the middle of is theirs.
    writing = Survey.objects.filter(finished_at=None).values("instrument")
    pianos = list(begun.exclude(pk__in=writing))
    kinds = FindingKind.objects.in_use().filter(code__in=[*surprise.kinds, *map(str.upper, surprise.kinds)])
    for kind in sorted(kinds, key=lambda one: surprise.kinds.index(one.code.lower())):
        for piano in pianos:
            if _touches(piano, kind):
                return piano, kind
    return None


def _touches(piano: Instrument, kind: FindingKind) -> bool:
    if kind.only_for not in ("", piano.kind) or piano.findings.filter(kind=kind).exists():
        return False
    remedies = [one for one in kind.remedies.all() if one.only_for in ("", piano.kind)]
    return any(one.should_stop for one in touched_by(piano, remedies))


def _ask(surprise: Surprise, piano: Instrument, kind: FindingKind, rng: random.Random, by: Person) -> None:
    asked_at = clock.now() - timedelta(days=surprise.asked, hours=2)
    finding = _write_down(surprise, piano, kind, asked_at, rng, by)
    with clock.at(asked_at + timedelta(minutes=20)):
        change = changes.begin(finding=finding, by=by)
        change.why_hidden = surprise.why_hidden
        change.photo = finding.photos.first()
        change.decide_by = clock.today() + timedelta(days=surprise.within)
        change.save(update_fields=["why_hidden", "photo", "decide_by"])
        for choice in change.choices.exclude(kind="leave").filter(hours__gt=0):
            choice.days_low, choice.days_high = rng.randint(1, 4), rng.randint(5, 12)
            choice.save(update_fields=["days_low", "days_high"])
        change = changes.send(change=change, seen_edition=change.edition, by=by)
    if surprise.answer:
        with clock.at(clock.now() - timedelta(days=surprise.answered)):
            _answer(surprise, change, by)


def _write_down(
    surprise: Surprise,
    piano: Instrument,
    kind: FindingKind,
    at: datetime,
    rng: random.Random,
    by: Person,
) -> Finding:
    with clock.at(at):
        survey = surveys.begin_survey(instrument=piano, occasion=Survey.Occasion.TEARDOWN, by=by)
        finding = surveys.add_finding(
            survey=survey,
            group=kind.group,
            kind=kind,
            severity=max(2, kind.usual_severity),
            words=surprise.words,
            by=by,
        )
        drawn = close_up(surprise.picture, words=f"{piano.number}, finding {finding.number}", rng=rng)
        add_photo(
            instrument=piano,
            finding=finding,
            file=SimpleUploadedFile(f"{piano.number}-finding-{finding.number}.jpg", drawn, "image/jpeg"),
            role=Photo.Role.FOUND,
            caption=finding.name,
            by=by,
        )
        for group in _others(kind):
            surveys.say_look(survey=survey, group=group, word="not", why="not open yet", by=by)
        surveys.finish_survey(survey=survey, by=by, why_not="not open yet", begun_word="found")
    return finding


def _others(kind: FindingKind) -> Iterable[ComponentGroup]:
    return ComponentGroup.objects.exclude(pk=kind.group_id)[:3]


def _answer(surprise: Surprise, change: ChangeOrder, by: Person) -> None:
    """By private link, as customers do; where there is no lighter way, the whole of it."""
    owner = change.instrument.customer
    fresh = links.make(instrument=change.instrument, by=by, for_whom=owner.name if owner else "")
    choice = change.choices.filter(kind=surprise.answer).first() or change.choices.filter(kind="do").get()
    answers.answer(
        change=change,
        choice_id=choice.pk,
        typed_name=owner.name if owner else "The owner",
        fingerprint=change.fingerprint,
        link=fresh.link,
    )
