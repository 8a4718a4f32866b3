"""Reports with which pianos of the demo went home, one for today, and what was left as found."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from shopflow.catalogue.models import FindingKind, ReadingKind, Remedy, Terms, Units
from shopflow.common import clock
from shopflow.instruments.models import Finding, Instrument
from shopflow.instruments.services import survey as surveys
from shopflow.offers.frozen import fingerprint_of
from shopflow.offers.models import Approval, Handover, Offer, Option
from shopflow.offers.selectors.handovers import last_at_it
from shopflow.offers.selectors.report import report_of
from shopflow.offers.services import drafting, handovers, leaving, sending
from shopflow.offers.services.laying_out import lay_out_option
from shopflow.offers.services.levels import Way
from shopflow.people.models import Person
from shopflow.photos.models import Photo
from shopflow.photos.services import make_copies
from shopflow.readings.measures import quantity_of, read_measure
from shopflow.readings.models import Phase
from shopflow.readings.services import sheets
from shopflow.workshop.models import Task
from shopflow.workshop.services.taps import TapIn

WENT_HOME = 4
MENDED, LEFT = 6, 3
WARRANTY = (
    "Two years on the work that we did and the parts that we put in, if the piano is kept as described under"
    " care. Not on what was left as found, and not on tuning, which is a matter of weather."
)


@dataclass(frozen=True, slots=True)
class ReadTwice:
    """One value at the survey, and at the final check."""

    code: str
    sheet: str
    place: str
    before: str
    after: str


READ = (
    ReadTwice("pitch-offset", "strings", "A4", "-64", "-2"),
    ReadTwice("key-side-play", "action", "note 40", "0.45", "0.18"),
    ReadTwice("hammer-contact", "action", "note 40", "14", "6"),
)
WORDS = (
    "It was a pleasure to have it here. Play it in gently: the felts want a few weeks to find their shape.",
    "The wood under the old finish was better than any of us had hoped, as you will see by daylight.",
    "It has its old voice and a new touch. Ring us if anything at all is not as you expected.",
)
OLD_PARTS = (
    "The old hammers and a length of the old bass strings are in the bag under the lid.",
    "The old key tops were given back; worn felts were thrown away as agreed.",
    "",
)


def hand_over_pianos(*, rng: random.Random, zone: ZoneInfo, by: Person, crew: list[Person]) -> None:
    """The last ones that left took their reports with them; one that is finished gets its own today."""
    _promise_something()
    gone = Instrument.objects.gone().exclude(finished_on=None).order_by("-left_on", "number")
    for piano in gone[:WENT_HOME]:
        _sell(piano, rng, zone, by)
        # A report shows only photos that can be seen; the worker would come to these too late.
        for photo in piano.photos.filter(state=Photo.State.WAITING)[:2]:
            make_copies(photo)
        with clock.at(_at(piano.left_on or clock.today(), 10, zone)):
            _hand_over(piano, rng, by, crew)
    waiting = Instrument.objects.in_the_house().exclude(finished_on=None).order_by("-finished_on").first()
    if waiting is not None:
        _sell(waiting, rng, zone, by)
        _write_and_check(waiting, rng, by, crew)


def _promise_something() -> None:
    """The shop's words of warranty, and what stands at the foot of its papers, where it has none yet."""
    terms, _ = Terms.objects.get_or_create(pk=1)
    terms.warranty = terms.warranty or WARRANTY
    terms.letter_foot = terms.letter_foot or "Quillmere Piano Works, Harbour Road, Quillmere"
    terms.save(update_fields=["warranty", "letter_foot"])


def leave_some(*, by: Person) -> None:
    """In what is under way, the smallest of what was found is left by the shop: sound enough."""
    small = Finding.objects.filter(
        state=Finding.State.OPEN, severity__lte=1, taken_back_at=None, about=None, instrument__left_on=None
    ).exclude(survey__finished_at=None)
    for finding in small.select_related("kind").order_by("pk")[:4]:
        expect = finding.kind.if_left if finding.kind else "It stays as it is."
        leaving.leave_by_the_shop(
            finding=finding, reason=Finding.Reason.SOUND, consequence=expect or "It stays as it is.", by=by
        )


def _at(day: date, hour: int, zone: ZoneInfo) -> datetime:
    return min(datetime.combine(day, time(hour), tzinfo=zone), clock.now())


def _sell(piano: Instrument, rng: random.Random, zone: ZoneInfo, by: Person) -> None:
    """Surveyed, offered and approved when it came in: what its tasks mend, and what was left as it is."""
    if piano.surveys.exists() or piano.offers.exists() or piano.arrived_on is None:
        return
    mended, left = _kinds(piano, rng)
    if not mended:
        return
    with clock.at(_at(piano.arrived_on, 11, zone)):
        _survey(piano, [*mended, *left], by)
    with clock.at(_at(piano.arrived_on + timedelta(days=2), 15, zone)):
        _agree(piano, mended, by)
    _read_after(piano, by)


def _kinds(piano: Instrument, rng: random.Random) -> tuple[dict[FindingKind, Remedy], list[FindingKind]]:
    """Kinds of finding that the work of this piano mends, and harmless ones that it does not."""
    done = set(Task.objects.signed().filter(instrument=piano).values_list("operation_id", flat=True))
    kinds = list(
        FindingKind.objects.in_use()
        .prefetch_related("remedies__operations")
        .order_by("code")
        .select_related("group")
    )
    rng.shuffle(kinds)
    mended, left = dict[FindingKind, Remedy](), list[FindingKind]()
    for kind in kinds:
        if kind.only_for not in ("", piano.kind):
            continue
        fitting = [one for one in kind.remedies.all() if one.only_for in ("", piano.kind)]
        wanted = [one for one in fitting if {op.pk for op in one.operations.all()} <= done]
        if wanted and len(mended) < MENDED:
            mended[kind] = wanted[-1]
        elif (
            fitting
            and not wanted
            and kind.group.code != "history"
            and kind.usual_severity <= 2
            and not kind.safety
            and len(left) < LEFT
        ):
            left.append(kind)
    return mended, left


def _survey(piano: Instrument, kinds: list[FindingKind], by: Person) -> None:
    survey = surveys.begin_survey(instrument=piano, occasion="first", by=by, place="at the owner’s")
    for kind in kinds:
        surveys.add_finding(survey=survey, group=kind.group, kind=kind, severity=kind.usual_severity, by=by)
    for read, one in _reading_kinds():
        surveys.add_reading(
            survey=survey, kind=read, typed=Decimal(one.before), units=Units.METRIC, place=one.place, by=by
        )
    surveys.finish_survey(survey=survey, by=by, why_not="nothing to see at this visit", begun_word="found")


def _reading_kinds() -> list[tuple[ReadingKind, ReadTwice]]:
    known = {kind.code: kind for kind in ReadingKind.objects.filter(code__in=[one.code for one in READ])}
    return [(known[one.code], one) for one in READ if one.code in known]


def _read_after(piano: Instrument, by: Person) -> None:
    """Read once more at the final check, as what was found at the survey was."""
    check = Task.objects.signed().filter(instrument=piano, operation__code="final-check").first()
    if check is None:
        return
    with clock.at(check.stage_since):
        for place, (kind, one) in enumerate(_reading_kinds()):
            answer = sheets.take_reading(
                task_id=check.pk,
                sheet=one.sheet,
                kind=kind,
                measure=read_measure(one.after, quantity_of(kind), Units.METRIC),
                phase=Phase.AFTER,
                place=one.place,
                by=by,
                tap=TapIn.of(key=f"read-after-{piano.pk}-{place}", by=by),
            )
            if answer.status != 200:
                raise RuntimeError(f"the demo was refused: {answer.said}")


def _agree(piano: Instrument, mended: dict[FindingKind, Remedy], by: Person) -> None:
    """An offer of one option, sent and approved on paper; the work that was done is its work."""
    offer = drafting.draft(instrument=piano, levels=[Option.Level.OWN], by=by)
    bench = drafting.Bench.of(piano)
    remedies = {one.pk: mended[one.kind] for one in bench.found if one.kind in mended}
    option = offer.options.get()
    way = Way(Option.Level.GOOD_ORDER, "Put in good order", "", remedies)
    option.level, option.name = way.level, way.name
    drafting.fill_rows(option, way, bench)
    done = Task.objects.signed().filter(instrument=piano).values("operation")
    option.works.exclude(operation__in=done).delete()
    option.save()
    offer.refresh_from_db()
    sent = sending.send(offer=offer, seen_edition=offer.edition, by=by).offer
    approval = Approval.objects.create(
        offer=sent,
        option=sent.options.get(),
        typed_name=_owner(piano),
        fingerprint=sent.fingerprint,
        entered_by=by,
        at=clock.now(),
    )
    Offer.objects.filter(pk=sent.pk).update(state=Offer.State.APPROVED, ended_at=clock.now())
    lay_out_option(approval, hand=by)


def _write_and_check(piano: Instrument, rng: random.Random, by: Person, crew: list[Person]) -> Handover:
    handover = handovers.begin(instrument=piano, by=by)
    texts = {name: getattr(handover, name) for name in handovers.TEXTS}
    texts |= {"words": rng.choice(WORDS), "old_parts": rng.choice(OLD_PARTS)}
    handover = handovers.write(handover=handover, seen_edition=handover.edition, texts=texts, by=by)
    verdicts = {line["code"]: {"state": "yes", "note": ""} for line in handover.checks}
    last = last_at_it(piano)
    second = rng.choice([person for person in crew if person.pk != last])
    return handovers.check(handover=handover, verdicts=verdicts, by=second, sign=True)


def _hand_over(piano: Instrument, rng: random.Random, by: Person, crew: list[Person]) -> None:
    handover = _write_and_check(piano, rng, by, crew)
    seen = fingerprint_of(report_of(handover))
    handovers.hand_over(handover=handover, received_by=_owner(piano), seen=seen, by=by)


def _owner(piano: Instrument) -> str:
    return piano.customer.name if piano.customer else "the owner"
