"""Reports with which pianos of the demo went home, one for today, and what was left as found."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from shopflow.catalogue.models import FindingKind, ReadingKind, Remedy, Terms, Units
from shopflow.common import clock
from shopflow.compute.proof import Proof
from shopflow.instruments.models import Finding, Instrument
from shopflow.instruments.services import survey as surveys
from shopflow.offers.aftercare import has_new_felt
from shopflow.offers.frozen import fingerprint_of
from shopflow.offers.models import Approval, Handover, Offer, Option
from shopflow.offers.selectors.handovers import evidence_of, last_at_it
from shopflow.offers.selectors.objections import objections_to
from shopflow.offers.selectors.proved import proved
from shopflow.offers.selectors.report import report_of
from shopflow.offers.selectors.whole_job import Reckoner
from shopflow.offers.services import drafting, handovers, leaving, sending
from shopflow.offers.services.laying_out import lay_out_option
from shopflow.offers.services.levels import Way
from shopflow.offers.services.objecting import answer_objection
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.photos.models import Photo
from shopflow.photos.services import make_copies
from shopflow.readings.measures import quantity_of, read_measure
from shopflow.readings.models import Phase
from shopflow.readings.services import sheets
from shopflow.workshop.models import Task
from shopflow.workshop.services.final_check import lacking
from shopflow.workshop.services.taps import TapIn

WENT_HOME = 4
MENDED, LEFT = 6, 3
WARRANTY = (
    "Two years on the work that we did and the parts that we put in, if the piano is kept as described under"
    " care. Not on what was left as found, and not on tuning, which is a matter of weather."
)


@dataclass(frozen=True, slots=True)
class ReadTwice:
    """One value at the survey, and at the final check where one of these operations has changed it."""

    code: str
    sheet: str
    place: str
    before: str
    after: str
    changed_by: tuple[str, ...]


READ = (
    ReadTwice("pitch-offset", "strings", "A4", "-64", "-2", ("tune-once", "shop-tune")),
    ReadTwice("key-side-play", "action", "note 40", "0.45", "0.18", ("keys-rebush",)),
    ReadTwice("hammer-contact", "action", "note 40", "14", "6", ("hammers-file", "hammers-hang")),
)
ANYTHING = "It was a pleasure to have it here. Ring us if anything at all is not as you expected."
# Words to the owner that are true only of some work.
WORDS: tuple[tuple[Callable[[Proof], bool], str], ...] = (
    (
        has_new_felt,
        "It was a pleasure to have it here. Play it in gently: the felts want a few weeks to settle.",
    ),
    (
        lambda proof: "finish" in proof.renewed and "finish" in proof.claims,
        "The wood under the old finish was better than any of us had hoped, as you will see by daylight.",
    ),
    (
        lambda proof: proof.has_signed("regulate-1") and "hammers" not in proof.renewed,
        "It has its old hammers and a new touch. Ring us if anything at all is not as you expected.",
    ),
)
# Where old parts went: small ones may lie in a bag.
LARGE = {"block", "board", "bridge"}
SMALL_WENT = ("They are in the bag under the lid.", "They were thrown away, as agreed.")
LARGE_WENT = ("They stayed with us, as agreed.", "They were thrown away, as agreed.")


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
    """Kinds of finding that the signed work of this piano mended, and harmless ones that it did not."""
    proof = proved(piano).proof
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
        gaps = {one: _gaps(one, proof) for one in fitting}
        signed = [one for one in fitting if not gaps[one] and _is_signed(one, proof)]
        if signed and len(mended) < MENDED:
            mended[kind] = signed[-1]
        elif fitting and all(gaps.values()) and _may_be_left(kind) and len(left) < LEFT:
            left.append(kind)
    return mended, left


def _gaps(remedy: Remedy, proof: Proof) -> bool:
    """Whether anything of it is not done, or was undone."""
    codes = proof.knowledge.remedies.get(remedy.code, ())
    return not codes or bool(proof.gaps(codes))


def _is_signed(remedy: Remedy, proof: Proof) -> bool:
    """Done itself, and not only made needless by heavier work: that would be sold as something else."""
    return set(proof.knowledge.remedies[remedy.code]) <= set(proof.done)


def _may_be_left(kind: FindingKind) -> bool:
    return kind.group.code != "history" and kind.usual_severity <= 2 and not kind.safety and not kind.stops


def _survey(piano: Instrument, kinds: list[FindingKind], by: Person) -> None:
    survey = surveys.begin_survey(instrument=piano, occasion="first", by=by, place="at the owner’s")
    for kind in kinds:
        surveys.add_finding(survey=survey, group=kind.group, kind=kind, severity=kind.usual_severity, by=by)
    for read, one in _readings_of(piano):
        surveys.add_reading(
            survey=survey, kind=read, typed=Decimal(one.before), units=Units.METRIC, place=one.place, by=by
        )
    surveys.finish_survey(survey=survey, by=by, why_not="nothing to see at this visit", begun_word="found")


def _readings_of(piano: Instrument) -> list[tuple[ReadingKind, ReadTwice]]:
    """What the work of this piano has changed: read before it, and after."""
    proof = proved(piano).proof
    known = {kind.code: kind for kind in ReadingKind.objects.filter(code__in=[one.code for one in READ])}
    return [(known[one.code], one) for one in READ if one.code in known and proof.has_signed(*one.changed_by)]


def _read_after(piano: Instrument, by: Person) -> None:
    """Read once more at the final check, as what was found at the survey was."""
    check = Task.objects.signed().filter(instrument=piano, operation__code="final-check").first()
    if check is None:
        return
    with clock.at(check.stage_since):
        for place, (kind, one) in enumerate(_readings_of(piano)):
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
    laid_out = Task.objects.in_the_job().filter(instrument=piano, operation__isnull=False)
    option.works.exclude(operation__in=laid_out.values("operation")).delete()
    option.save()
    offer.refresh_from_db()
    _answer_objections(offer, by)
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


def _answer_objections(offer: Offer, by: Person) -> None:
    """The offer is written after the work was laid out: what it lacks was not part of that job."""
    for one in objections_to(offer, Reckoner.of(offer.instrument)):
        if one.stands:
            answer_objection(
                offer=offer,
                option=one.option,
                words=one.words,
                reason="Agreed so: the job was laid out by its route.",
                seen_edition=offer.edition,
                by=by,
            )


def _write_and_check(piano: Instrument, rng: random.Random, by: Person, crew: list[Person]) -> Handover:
    handover = handovers.begin(instrument=piano, by=by)
    texts = {name: getattr(handover, name) for name in handovers.TEXTS}
    proof = proved(piano).proof
    texts |= {"words": _words(proof, rng), "old_parts": _old_parts(handover.old_parts, proof, rng)}
    handover = handovers.write(handover=handover, seen_edition=handover.edition, texts=texts, by=by)
    verdicts = _verdicts(handover, proof)
    last = last_at_it(piano)
    second = rng.choice(
        [each for each in crew if each.pk != last and (not lacking(piano) or access.may(each, Deed.OVERRIDE))]
    )
    return handovers.check(handover=handover, verdicts=verdicts, by=second, sign=True)


def _words(proof: Proof, rng: random.Random) -> str:
    return rng.choice([words for is_true, words in WORDS if is_true(proof)] or [ANYTHING])


def _old_parts(taken_out: str, proof: Proof, rng: random.Random) -> str:
    """What the report begins with, and where the parts went; nothing where nothing was renewed."""
    went = LARGE_WENT if LARGE & proof.renewed else SMALL_WENT
    return f"{taken_out} {rng.choice(went)}" if taken_out else ""


def _verdicts(handover: Handover, proof: Proof) -> dict[str, dict[str, str]]:
    """Yes to what is there; what has not been done does not apply."""
    told = report_of(handover)
    there = {
        "tuned": "tuning" in proof.claims,
        "readings": bool(told["readings"]),
        "photos": bool(evidence_of(handover.instrument)["after"]),
        "left": bool(told["left"]),
        "old-parts": bool(handover.old_parts),
    }
    there |= {one.line: False for one in lacking(handover.instrument)}
    return {
        line["code"]: {"state": "yes", "note": ""}
        if there.get(line["code"], True)
        else {"state": "none", "note": "not part of this job"}
        for line in handover.checks
    }


def _hand_over(piano: Instrument, rng: random.Random, by: Person, crew: list[Person]) -> None:
    handover = _write_and_check(piano, rng, by, crew)
    seen = fingerprint_of(report_of(handover))
    handovers.hand_over(handover=handover, received_by=_owner(piano), seen=seen, by=by)


def _owner(piano: Instrument) -> str:
    return piano.customer.name if piano.customer else "the owner"
