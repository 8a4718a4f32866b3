"""Making and changing a draft: options from the usual levels or from scopes that were weighed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db import transaction

from shopflow.catalogue.models import Remedy
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Finding, Instrument
from shopflow.instruments.selectors import CurrentFinding, by_consequence, current_findings
from shopflow.instruments.selectors.safety import is_unsafe
from shopflow.offers.models import (
    Offer,
    Option,
    OptionFinding,
    OptionWork,
    Scope,
    Treatment,
)
from shopflow.offers.selectors.remedies import remedies_by_finding
from shopflow.offers.selectors.scope.later import Later, later_prices
from shopflow.offers.selectors.scope.put import operation_id, remedy_id
from shopflow.offers.selectors.scope.weighing import Weighed, Weighing
from shopflow.offers.selectors.whole_job import HIGHEST_PRICE, Job, Reckoner
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from .levels import Way, way_for, why_left
from .offers import MOST_OPTIONS, ask_for_weeks, begin, held_draft

# What is mended or in work already is not offered once more.
OPEN_STATES = {Finding.State.OPEN, Finding.State.LEFT}
NOT_SAID = "We have not weighed what will come of it; please ask us."


@dataclass(frozen=True, slots=True)
class Bench:
    """What is read once to fill any number of options: findings, their remedies, and the sums."""

    found: list[CurrentFinding]
    remedies: dict[int, list[Remedy]]
    reckoner: Reckoner

    def way(self, level: str) -> Way:
        """One of the usual ways, or one that is still empty."""
        if level not in USUAL:
            return own_way()
        return way_for(level, self.found, self.remedies, self.reckoner)

    @classmethod
    def of(cls, instrument: Instrument) -> Bench:
        found = by_consequence(one for one in current_findings(instrument) if one.state in OPEN_STATES)
        reckoner = Reckoner.of(instrument)
        return cls(found, remedies_by_finding(instrument, found, reckoner.operations), reckoner)


@transaction.atomic
def draft(
    *, instrument: Instrument, levels: Sequence[str], scopes: Sequence[Scope] = (), by: Person, key: str = ""
) -> Offer:
    """A new draft with an option for each level and each scope; a form sent twice makes one."""
    access.require(by, Deed.OFFERS)
    if not levels and not scopes:
        raise Refused("Choose at least one way to go.", field="levels")
    if len(levels) + len(scopes) > MOST_OPTIONS:
        raise Refused(f"An offer has at most {MOST_OPTIONS} options side by side.", field="levels")
    offer, is_new = begin(instrument=instrument, by=by, key=key)
    if not is_new:
        return offer
    bench = Bench.of(instrument)
    for way in told_once([bench.way(level) for level in levels]):
        fill(offer, way, bench)
    for scope in scopes:
        fill(offer, way_of_scope(scope, bench), bench, scope=scope)
    _recommend_one(offer)
    _suggest_deposit(offer)
    ask_for_weeks(offer, by=by)
    return offer


def told_once(ways: Sequence[Way]) -> list[Way]:
    """Of ways that come to the same work only the first, which says so."""
    kept: list[Way] = []
    for way in ways:
        same = next((place for place, other in enumerate(kept) if _is_same(way, other)), None)
        if same is None:
            kept.append(way)
        else:
            words = f"{kept[same].words} Here “{way.name}” comes to the same work."
            kept[same] = replace(kept[same], words=words.strip())
    return kept


def _is_same(way: Way, other: Way) -> bool:
    return bool(way.whole) and way.whole == other.whole and way.remedies == other.remedies


def _refuse_twice(offer: Offer, way: Way) -> None:
    for option in offer.options.prefetch_related("works__operation") if way.whole else ():
        if {work.operation.code for work in option.works.all()} == way.whole:
            raise Refused(
                f"“{way.name}” comes to the same work here as “{option.name}”: it would stand twice."
            )


USUAL = {Option.Level.KEEP_GOING, Option.Level.GOOD_ORDER, Option.Level.REBUILT, Option.Level.CASE_ONLY}


@transaction.atomic
def add_option(
    *, offer: Offer, level: str, seen_edition: int, by: Person, scope: Scope | None = None
) -> Option:
    """One more way to go, of a usual level, from a scope, or empty and in the shop's own words."""
    access.require(by, Deed.OFFERS)
    offer = held_draft(offer, seen_edition)
    if offer.options.count() >= MOST_OPTIONS:
        raise Refused(f"An offer has at most {MOST_OPTIONS} options side by side.")
    bench = Bench.of(offer.instrument)
    if scope is not None:
        way = way_of_scope(scope, bench)
    else:
        way = bench.way(level)
        _refuse_twice(offer, way)
    made = fill(offer, way, bench, scope=scope)
    note_change(offer, by=by)
    return made


@transaction.atomic
def take_out_option(*, offer: Offer, option: Option, seen_edition: int, by: Person) -> None:
    access.require(by, Deed.OFFERS)
    offer = held_draft(offer, seen_edition)
    offer.options.filter(pk=option.pk).delete()
    note_change(offer, by=by)


def own_way() -> Way:
    return Way(Option.Level.OWN, "In our own words", "", {})


def fill(offer: Offer, way: Way, bench: Bench, *, scope: Scope | None = None) -> Option:
    """Write one option with its works, its sums, and what it leaves."""
    option = Option(offer=offer, scope=scope, level=way.level, name=way.name[:80], words=way.words[:1000])
    option.position = offer.options.count()
    option.price = Decimal(0)
    option.save()
    fill_rows(option, way, bench)
    return option


def way_of_scope(scope: Scope, bench: Bench) -> Way:
    """A scope that was weighed and kept, as a way to go."""
    chosen = dict(remedies_of_scope(scope, bench.remedies))
    there = {str(one).partition(":")[0] for one in scope.chosen}
    is_whole = (
        bool(scope.work)
        and there == {str(pk) for pk in chosen}
        and set(scope.work) <= bench.reckoner.by_code.keys()
    )
    whole = frozenset(scope.work) if is_whole else frozenset()
    return Way(Option.Level.OWN, scope.name or f"For {scope.budget:,.0f}", "", chosen, whole=whole)


def remedies_of_scope(scope: Scope, remedies: Mapping[int, list[Remedy]]) -> Iterable[tuple[int, Remedy]]:
    """Finding and remedy of each choice of a scope; a choice's id names both."""
    for chosen in scope.chosen:
        finding, _, remedy = str(chosen).partition(":")
        for one in remedies.get(int(finding) if finding.isdecimal() else 0, []):
            if remedy in {str(one.pk), one.code}:
                yield int(finding), one


def fill_rows(option: Option, way: Way, bench: Bench) -> None:
    """Works, findings and sums of an option for this choice; what was typed about what is left stays."""
    job = _job(way, bench.reckoner)
    was_reckoned = option.price == option.reckoned
    typed = {row.finding_id: row for row in option.findings.filter(treatment=Treatment.LEAVE)}
    option.works.all().delete()
    option.findings.all().delete()
    OptionWork.objects.bulk_create(
        OptionWork(
            option=option,
            operation=line.operation,
            hours=line.hours,
            cost=line.cost,
            price=line.price,
            by_hand=line.operation.pk in way.added,
        )
        for line in job.lines
    )
    later = _later(way, bench, job)
    rows = [_row(option, way, one, later.get(one.pk)) for one in bench.found]
    OptionFinding.objects.bulk_create(_as_typed(row, typed.get(row.finding_id)) for row in rows)
    option.reckoned, option.cost, option.hours = job.price, job.cost, job.hours
    if was_reckoned:
        option.price, option.price_reason = job.price, ""
    option.save()


def _job(way: Way, reckoner: Reckoner) -> Job:
    """As it was worked out, else completed; what was added by hand stays in it, to be objected to."""
    if way.whole:
        return reckoner.job_of(way.whole)
    job = reckoner.job(way.remedies.values(), way.added)
    by_hand = {reckoner.operations[pk].code for pk in way.added if pk in reckoner.operations}
    return job if by_hand <= job.codes else reckoner.job_of(job.codes | by_hand)


def _as_typed(row: OptionFinding, before: OptionFinding | None) -> OptionFinding:
    if before is not None and row.treatment == Treatment.LEAVE:
        row.reason, row.consequence, row.can_wait = before.reason, before.consequence, before.can_wait
    return row


def _refused(option: Option, one: CurrentFinding) -> bool:
    """Did the customer, when the scope was weighed, wish it left?"""
    return option.scope is not None and str(one.pk) in option.scope.wishes.get("refuse", [])


def _row(option: Option, way: Way, one: CurrentFinding, later: Later | None) -> OptionFinding:
    remedy = way.remedies.get(one.pk)
    if remedy is not None:
        kind = Treatment.REPLACE if remedy.kind == Remedy.Kind.REPLACE else Treatment.REPAIR
        return OptionFinding(option=option, finding=one.first, treatment=kind, remedy=remedy)
    if one.pk in way.by_hand:
        return OptionFinding(option=option, finding=one.first, treatment=Treatment.REPAIR)
    return OptionFinding(
        option=option,
        finding=one.first,
        treatment=Treatment.LEAVE,
        reason=Finding.Reason.WISH if _refused(option, one) else why_left(way.level, one),
        consequence=(one.if_left or NOT_SAID)[:400],
        can_wait=True,
        price_now=later.now if later else None,
        price_later=min(HIGHEST_PRICE, later.later) if later else None,
    )


def _later(way: Way, bench: Bench, job: Job) -> dict[int, Later]:
    """What mending each finding that is left would add to this job, and what it comes to alone."""
    rows = tuple(
        Weighed(one, tuple(bench.remedies.get(one.pk, ())), 0.0, is_unsafe(one)) for one in bench.found
    )
    weighing = Weighing(bench.reckoner.instrument, bench.reckoner, rows)
    chosen = [remedy_id(pk, remedy) for pk, remedy in way.remedies.items()]
    chosen += [operation_id(line.operation) for line in job.lines]
    left = [one for one in weighing.mendable if one.pk not in way.remedies and one.pk not in way.by_hand]
    return later_prices(weighing, chosen, left)


def _recommend_one(offer: Offer) -> None:
    options = list(offer.options.all())
    usual = [one for one in options if one.level == Option.Level.GOOD_ORDER] or options
    usual[0].is_recommended = True
    usual[0].save(update_fields=["is_recommended"])


def _suggest_deposit(offer: Offer) -> None:
    """The shop's share of the cheapest option: nobody is asked for more than the yes may turn out to be."""
    share = Reckoner.of(offer.instrument).terms.deposit_percent
    least = min((one.price for one in offer.options.all()), default=Decimal(0))
    offer.deposit = (least * share / 100).quantize(Decimal(1))
    offer.save(update_fields=["deposit"])


def note_change(offer: Offer, *, by: Person) -> None:
    """Another edition of the draft: the plan is asked anew for its weeks."""
    offer.edition += 1
    offer.save(update_fields=["edition"])
    offer.options.update(weeks_low=None, weeks_likely=None, weeks_high=None, weeks_words="")
    ask_for_weeks(offer, by=by)
