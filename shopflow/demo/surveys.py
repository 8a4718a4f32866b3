"""Surveys of the demo: none yet, half done, finished with few and with many findings, spoken of again."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.core.files.uploadedfile import SimpleUploadedFile

from shopflow.catalogue.models import ComponentGroup, FindingKind, ReadingKind, Units
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

PHOTOS_EACH = 2


def survey_pianos(*, rng: random.Random, zone: ZoneInfo, by: Person) -> None:
    """Each portrait on a piano of its build that is in the house; the rest nobody has surveyed yet."""
    fresh, apart = _by_progress()
    for portrait in AFTER_TEARDOWN:
        _sit(portrait, _take(apart or fresh, portrait.kind), rng, zone, by)
    for portrait in PORTRAITS:
        _sit(portrait, _take(fresh, portrait.kind), rng, zone, by)


def _by_progress() -> tuple[list[Instrument], list[Instrument]]:
    """Those that nobody has touched, newest first, and those that are taken apart; then whatever is there."""
    here = list(Instrument.objects.in_the_house().filter(finished_on=None).order_by("-arrived_on", "number"))
    signed = Task.objects.signed().filter(instrument__in=here)
    apart = set(signed.filter(operation__code="case-strip").values_list("instrument_id", flat=True))
    touched = set(signed.values_list("instrument_id", flat=True))
    fresh = [one for one in here if one.pk not in touched] + [
        one for one in here if one.pk in touched - apart
    ]
    return fresh, [one for one in here if one.pk in apart]


def _take(pianos: list[Instrument], kind: str) -> Instrument | None:
    found = next((one for one in pianos if one.kind == kind), None)
    if found is not None:
        pianos.remove(found)
    return found


def _sit(
    portrait: Portrait, piano: Instrument | None, rng: random.Random, zone: ZoneInfo, by: Person
) -> None:
    if piano is None:
        return
    morning = datetime.combine(piano.arrived_on or clock.today(), time(10), tzinfo=zone)
    ticks = _ticks(min(morning, clock.now() - timedelta(hours=3)))
    survey = _first(portrait, piano, ticks, rng, by)
    if portrait.later:
        _second(portrait, survey, rng, by)


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


def _second(portrait: Portrait, first: Survey, rng: random.Random, by: Person) -> None:
    began = (first.finished_at or clock.now()) + timedelta(days=9)
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
