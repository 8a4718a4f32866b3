"""Surveys of the demo: none yet, half done, finished with few and with many findings, spoken of again."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.core.files.uploadedfile import SimpleUploadedFile

from shopflow.catalogue.models import ComponentGroup, FindingKind, Kind, ReadingKind, Units
from shopflow.common import clock
from shopflow.instruments.models import Finding, Instrument, Survey
from shopflow.instruments.services import survey as services
from shopflow.people.edits import mark_of
from shopflow.people.models import Person
from shopflow.photos.models import Photo
from shopflow.photos.services import add_photo
from shopflow.workshop.models import Task

from .close_ups import close_up
from .found import AFTER_TEARDOWN, PORTRAITS, Found, Portrait
from .opening import Opening
from .pianos import Share

PHOTOS_EACH = 2


def to_be_looked_at() -> list[Share]:
    """The pianos that come only to be surveyed: one for each portrait, and two for whoever tries it."""
    wanted = [Share("", 1, each.kind, *each.built) for each in PORTRAITS]
    return [*wanted, Share("", 1, Kind.UPRIGHT, 1890, 1950), Share("", 1, Kind.GRAND, 1900, 1960)]


def survey_pianos(*, rng: random.Random, zone: ZoneInfo, by: Person) -> None:
    """Each portrait on a piano of its build that is in the house; the rest nobody has surveyed yet."""
    house = _House()
    opening = Opening.of_the_shop(zone)
    for portrait in AFTER_TEARDOWN:
        _sit(portrait, house.opened(portrait), opening, rng, by)
    for portrait in PORTRAITS:
        _sit(portrait, house.fresh(portrait), opening, rng, by)


class _House:
    """What is in the house and not finished, each given to one portrait only."""

    def __init__(self) -> None:
        here = Instrument.objects.in_the_house().filter(finished_on=None)
        self.here = list(here.order_by("arrived_on", "number"))
        self.signed: dict[int, set[str]] = defaultdict(set)
        signed = Task.objects.signed().filter(instrument__in=self.here, operation__isnull=False)
        for piano, code in signed.values_list("instrument", "operation__code"):
            self.signed[piano].add(code)
        begun = Task.objects.in_the_job().filter(instrument__in=self.here)
        self.begun = set(begun.values_list("instrument", flat=True))

    def fresh(self, portrait: Portrait) -> Instrument | None:
        """One that no work was laid out for; else one whose work has not begun."""
        untouched = [one for one in self.here if not self.signed[one.pk] - {"receive", "survey"}]
        untouched.sort(key=lambda one: one.pk in self.begun)
        return self._take(portrait, untouched) or self._take(portrait, self.here)

    def opened(self, portrait: Portrait) -> Instrument | None:
        """One with its strings off, looked at again already or not, as the portrait says."""
        seen_again = portrait.until != "second"
        unstrung = [one for one in self.here if "strings-off" in self.signed[one.pk] - self._strung(one)]
        unstrung.sort(key=lambda one: ("second-survey" in self.signed[one.pk]) != seen_again)
        return self._take(portrait, unstrung) or self._take(portrait, self.here)

    def _strung(self, piano: Instrument) -> set[str]:
        """Nothing is taken for unstrung that has its new wire."""
        return {"strings-off"} if "string-treble" in self.signed[piano.pk] else set()

    def _take(self, portrait: Portrait, among: list[Instrument]) -> Instrument | None:
        right = [one for one in among if one.kind == portrait.kind]
        first, last = portrait.built
        of_age = [one for one in right if one.year_built is None or first <= one.year_built <= last]
        found = next(iter(of_age or right), None)
        if found is not None:
            self.here.remove(found)
        return found


def _sit(
    portrait: Portrait, piano: Instrument | None, opening: Opening, rng: random.Random, by: Person
) -> None:
    if piano is None:
        return
    morning = _looked_at(piano, "survey") or opening.at(opening.after(piano.arrived_on or clock.today()), 10)
    if portrait.until == "half":
        # Somebody was called away from it yesterday.
        morning = opening.working_moment(clock.now() - timedelta(hours=20))
    survey = _first(portrait, piano, _ticks(min(morning, clock.now() - timedelta(hours=3))), rng, by)
    if portrait.later:
        _second(portrait, survey, opening, rng, by)


def _looked_at(piano: Instrument, operation: str) -> datetime | None:
    """Two hours before this look was signed as work; None where it was not."""
    task = Task.objects.signed().filter(instrument=piano, operation__code=operation).first()
    return task.stage_since - timedelta(hours=2) if task else None


def _ticks(start: datetime) -> Iterator[datetime]:
    """A few minutes for each thing written down, and never later than now."""
    moment = start
    while True:
        yield min(moment, clock.now())
        moment += timedelta(minutes=3)


def _first(
    portrait: Portrait, piano: Instrument, ticks: Iterator[datetime], rng: random.Random, by: Person
) -> Survey:
    with clock.at(next(ticks)):
        survey = services.begin_survey(
            instrument=piano,
            occasion=Survey.Occasion.FIRST,
            by=by,
            place=piano.place,
            room_c=Decimal(rng.randint(170, 210)) / 10,
            room_rh=Decimal(rng.randint(36, 56)),
        )
    groups = list(ComponentGroup.objects.all())
    for group in groups[: portrait.groups]:
        _group(portrait, survey, group, ticks, rng, by)
    if portrait.until == "half":
        _half_done(portrait, survey, groups[portrait.groups], ticks, rng, by)
        return survey
    with clock.at(next(ticks)):
        return services.finish_survey(survey=survey, by=by, why_not="not at this visit", begun_word="found")


def _group(
    portrait: Portrait,
    survey: Survey,
    group: ComponentGroup,
    ticks: Iterator[datetime],
    rng: random.Random,
    by: Person,
) -> None:
    if group.code in portrait.unseen:
        with clock.at(next(ticks)):
            services.say_look(survey=survey, group=group, word="not", why=portrait.unseen[group.code], by=by)
        return
    written = _write(portrait.found, survey, group, ticks, rng, by)
    _read(portrait, survey, group, ticks, by)
    word = "partly" if group.code in portrait.partly else "found" if written else "good"
    with clock.at(next(ticks)):
        services.say_look(
            survey=survey, group=group, word=word, why=portrait.partly.get(group.code, ""), by=by
        )


def _write(
    found: tuple[Found, ...],
    survey: Survey,
    group: ComponentGroup,
    ticks: Iterator[datetime],
    rng: random.Random,
    by: Person,
) -> list[Finding]:
    kinds = {kind.code: kind for kind in FindingKind.objects.filter(group=group)}
    written = []
    for one in found:
        if one.code in kinds:
            with clock.at(next(ticks)):
                written.append(_finding(one, survey, kinds[one.code], rng, by))
    return written


def _finding(one: Found, survey: Survey, kind: FindingKind, rng: random.Random, by: Person) -> Finding:
    finding = services.add_finding(
        survey=survey,
        group=kind.group,
        kind=kind,
        severity=one.severity,
        words=one.words,
        extent=Decimal(one.extent) if one.extent else None,
        extent_unit=one.unit,
        confidence=one.confidence,
        by=by,
    )
    taken = Photo.objects.filter(finding__survey=survey).count()
    if one.picture and taken < PHOTOS_EACH:
        _photograph(finding, one.picture, rng, by)
    return finding


def _photograph(finding: Finding, what: str, rng: random.Random, by: Person) -> None:
    number = finding.instrument.number
    drawn = close_up(what, words=f"{number}, finding {finding.number}", rng=rng)
    add_photo(
        instrument=finding.instrument,
        finding=finding,
        file=SimpleUploadedFile(f"{number}-finding-{finding.number}.jpg", drawn, "image/jpeg"),
        role=Photo.Role.FOUND,
        caption=finding.name,
        by=by,
    )


def _read(
    portrait: Portrait, survey: Survey, group: ComponentGroup, ticks: Iterator[datetime], by: Person
) -> None:
    kinds = {kind.code: kind for kind in ReadingKind.objects.filter(group=group)}
    for code, place, typed in portrait.readings:
        if code in kinds:
            with clock.at(next(ticks)):
                services.add_reading(
                    survey=survey,
                    kind=kinds[code],
                    typed=Decimal(typed),
                    units=Units.METRIC,
                    place=place,
                    by=by,
                )


def _half_done(
    portrait: Portrait,
    survey: Survey,
    group: ComponentGroup,
    ticks: Iterator[datetime],
    rng: random.Random,
    by: Person,
) -> None:
    """The part at which somebody was called away: findings without a closing word, a form half typed."""
    _write(portrait.found, survey, group, ticks, rng, by)
    kind = group.finding_kinds.in_use().first()
    if kind is not None:
        with clock.at(next(ticks)):
            fields = {"severity": "2", "words": "left side, about a hand’s bre", "confidence": "seen"}
            services.keep_draft(survey=survey, form=f"{group.code}/finding-{kind.code}", fields=fields, by=by)


def _second(portrait: Portrait, first: Survey, opening: Opening, rng: random.Random, by: Person) -> None:
    some_days_on = opening.after(opening.day_of(first.finished_at or clock.now()) + timedelta(days=8))
    began = _looked_at(first.instrument, "second-survey") or opening.at(some_days_on, 10)
    ticks = _ticks(min(began, clock.now() - timedelta(hours=2)))
    with clock.at(next(ticks)):
        survey = services.begin_survey(instrument=first.instrument, occasion=Survey.Occasion.TEARDOWN, by=by)
    earlier = {row.kind.code: row for row in first.findings.select_related("kind") if row.kind}
    for later in portrait.later:
        with clock.at(next(ticks)):
            word = services.say_of_earlier(
                survey=survey, earlier=earlier[later.code], verdict=later.verdict, by=by
            )
            _say_more(word, later.words, by)
    for group in ComponentGroup.objects.all():
        _write(portrait.surprises, survey, group, ticks, rng, by)
    if portrait.until != "second":
        with clock.at(next(ticks)):
            why = "as in the first survey"
            services.finish_survey(survey=survey, by=by, why_not=why, begun_word="found")


def _say_more(word: Finding, words: str, by: Person) -> None:
    if words:
        seen = mark_of(services.facts_of(word))
        services.change_finding(finding=word, facts={"words": words}, seen=seen, by=by)
