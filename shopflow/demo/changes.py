"""Change orders of the demo: one that waits, one overdue, one done the cheaper way, one left as found."""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

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
from shopflow.workshop.models import Task

from .close_ups import close_up
from .opening import Opening


@dataclass(frozen=True, slots=True)
class Sight:
    """What can come to light once `opened_by` is signed, and before `closed_by` is."""

    kind: str
    words: str
    why_hidden: str
    picture: str
    opened_by: str
    closed_by: str
    only_for: str = ""

    def shows_on(self, signed: Mapping[str, datetime], at: datetime) -> bool:
        opened = signed.get(self.opened_by)
        return opened is not None and opened < at and self.closed_by not in signed


@dataclass(frozen=True, slots=True)
class Surprise:
    """What may have come to light, how many days ago it was asked, how long one had, what was answered."""

    sights: tuple[Sight, ...]
    asked: int
    within: int
    answer: str = ""
    answered: int = 0

    @property
    def asked_at(self) -> datetime:
        return clock.now() - timedelta(days=self.asked, hours=2)


SPLITS = Sight(
    "BR1",
    "three splits along the pins, the longest 45 mm",
    "The strings lay over it, and their pull kept the splits closed.",
    "crack",
    opened_by="strings-off",
    closed_by="string-treble",
)
CRACK = Sight(
    "SB2",
    "open 1 mm over 300 mm beside the fourth rib",
    "Old glue and dust hid it until the board was clean.",
    "crack",
    opened_by="strings-off",
    closed_by="string-treble",
)
DAMPER_WIRES = Sight(
    "DA2",
    "wires worn thin where they pass the guide",
    "It shows only with the dampers off.",
    "hammers",
    opened_by="action-out",
    closed_by="assemble",
    only_for="grand",
)
DAMPER_LEVERS = Sight(
    "DA2",
    "spoons bent, lever centres dry from note 20 to 44",
    "It shows only with the action on the bench.",
    "hammers",
    opened_by="action-out",
    closed_by="assemble",
    only_for="upright",
)
KEY_WOOD = Sight(
    "KE4",
    "six keys cracked at the balance hole",
    "It shows only with the keys off their frame.",
    "keys",
    opened_by="action-out",
    closed_by="assemble",
)
CENTRES = Sight(
    "AC4",
    "hammer centres wobble from note 52 up",
    "With the action in, the strings hold the hammers in line.",
    "hammers",
    opened_by="action-out",
    closed_by="assemble",
)
PLATING = Sight(
    "HW1",
    "worn through to the base metal on pedals and hinges",
    "It lay under a thick old lacquer that came off with the cleaning.",
    "veneer",
    opened_by="hw-inventory",
    closed_by="case-on",
)
VENEER = Sight(
    "CA1",
    "loose along the lower edge, a hand wide",
    "The old finish and its filler held it flat.",
    "veneer",
    opened_by="strip",
    closed_by="rub-out",
)
IN_THE_ACTION = (DAMPER_WIRES, DAMPER_LEVERS, KEY_WOOD, CENTRES)
SURPRISES = (
    Surprise((SPLITS, CRACK, *IN_THE_ACTION), asked=3, within=7),
    Surprise((*IN_THE_ACTION, SPLITS), asked=16, within=7),
    Surprise((CRACK, SPLITS, *IN_THE_ACTION), asked=30, within=7, answer="cheaper", answered=26),
    Surprise((PLATING, VENEER, *IN_THE_ACTION), asked=24, within=10, answer="leave", answered=21),
)


def surprise_owners(*, rng: random.Random, zone: ZoneInfo, by: Person) -> None:
    """Each surprise on a piano under way whose open work it touches; one surprise a piano."""
    taken: set[int] = set()
    opening = Opening.of_the_shop(zone)
    for surprise in SURPRISES:
        found = _piano_for(surprise, opening.working_moment(surprise.asked_at), taken)
        if found is not None:
            piano, sight, kind = found
            taken.add(piano.pk)
            _ask(surprise, piano, sight, kind, opening, rng, by)
            for photo in piano.photos.all():
                choose_for_customer(photo=photo, chosen=True, by=by)


def _piano_for(
    surprise: Surprise, at: datetime, taken: set[int]
) -> tuple[Instrument, Sight, FindingKind] | None:
    """Open where the surprise lay when it was asked about, and still; and whose work would have to stop."""
    here = Instrument.objects.in_the_house().filter(finished_on=None)
    # A survey that somebody is in the middle of is theirs.
    writing = Survey.objects.filter(finished_at=None).values("instrument")
    pianos = list(here.exclude(pk__in=taken).exclude(pk__in=writing).order_by("number"))
    signed = {piano.pk: dict[str, datetime]() for piano in pianos}
    done = Task.objects.signed().filter(instrument__in=pianos, operation__isnull=False)
    for piano, code, since in done.values_list("instrument", "operation__code", "stage_since"):
        signed[piano][code] = since
    kinds = {kind.code: kind for kind in FindingKind.objects.in_use()}
    for sight in surprise.sights:
        for piano in pianos:
            fits = sight.only_for in {"", piano.kind} and sight.shows_on(signed[piano.pk], at)
            if fits and sight.kind in kinds and _touches(piano, kinds[sight.kind]):
                return piano, sight, kinds[sight.kind]
    return None


def _touches(piano: Instrument, kind: FindingKind) -> bool:
    if kind.only_for not in ("", piano.kind) or piano.findings.filter(kind=kind).exists():
        return False
    remedies = [one for one in kind.remedies.all() if one.only_for in ("", piano.kind)]
    return any(one.should_stop for one in touched_by(piano, remedies))


def _ask(
    surprise: Surprise,
    piano: Instrument,
    sight: Sight,
    kind: FindingKind,
    opening: Opening,
    rng: random.Random,
    by: Person,
) -> None:
    asked_at = opening.working_moment(surprise.asked_at)
    finding = _write_down(sight, piano, kind, asked_at, rng, by)
    with clock.at(asked_at + timedelta(minutes=20)):
        change = changes.begin(finding=finding, by=by)
        change.why_hidden = sight.why_hidden
        change.photo = finding.photos.first()
        change.decide_by = opening.on_or_after(clock.today() + timedelta(days=surprise.within))
        change.save(update_fields=["why_hidden", "photo", "decide_by"])
        for choice in change.choices.exclude(kind="leave").filter(hours__gt=0):
            choice.days_low, choice.days_high = rng.randint(1, 4), rng.randint(5, 12)
            choice.save(update_fields=["days_low", "days_high"])
        change = changes.send(change=change, seen_edition=change.edition, by=by)
    if surprise.answer:
        # An owner answers on any evening.
        with clock.at(clock.now() - timedelta(days=surprise.answered)):
            _answer(surprise, change, by)


def _write_down(
    sight: Sight,
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
            words=sight.words,
            by=by,
        )
        drawn = close_up(sight.picture, words=f"{piano.number}, finding {finding.number}", rng=rng)
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
