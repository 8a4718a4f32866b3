"""A small library for surveys: three parts of an instrument, four kinds of finding, two readings."""

from __future__ import annotations

import secrets
from decimal import Decimal
from typing import Any

from shopflow.catalogue.models import ComponentGroup, FindingKind, Kind, ReadingKind
from shopflow.instruments.models import Finding, Instrument, Survey
from shopflow.instruments.services import survey as services
from shopflow.people.models import Person


def library() -> None:
    """Case, board and history; the board has a crack, the case a lid and straps that only uprights have."""
    if ComponentGroup.objects.exists():
        return
    for place, name in enumerate(("Case", "Board", "History")):
        ComponentGroup.objects.create(
            code=name.lower(), name=name, position=place, upright="upright words", grand="grand words"
        )
    kind("SB2", "board", "Crack, open or buzzing", tone=2)
    kind("SB7", "board", "Panel rotten", usual_severity=4, safety=1, durability=3)
    kind("CA5", "case", "Lid pins missing", usual_severity=3, safety=3)
    kind("AC6", "case", "Straps perished", only_for=Kind.UPRIGHT, playing=1)
    reading(
        "crown",
        "board",
        "Crown",
        possible_low=Decimal(-20),
        possible_high=Decimal(40),
        usual_words="no agreed limit",
    )
    reading(
        "side-play",
        "case",
        "Side play",
        decimals=2,
        usual_low=Decimal("0.1"),
        usual_high=Decimal("0.3"),
        possible_low=Decimal(0),
        possible_high=Decimal(10),
    )


def part(code: str = "board") -> ComponentGroup:
    library()
    return ComponentGroup.objects.get(code=code)


def kind(code: str, group: str, name: str, **given: Any) -> FindingKind:
    return FindingKind.objects.create(
        code=code, group=ComponentGroup.objects.get(code=group), name=name, if_left="it grows", **given
    )


def reading(code: str, group: str, name: str, **given: Any) -> ReadingKind:
    facts = {"unit": "mm", "inch_unit": "in", "inch_factor": Decimal("25.4"), "place": "rib"} | given
    return ReadingKind.objects.create(
        code=code, group=ComponentGroup.objects.get(code=group), name=name, **facts
    )


def begin(instrument: Instrument, *, by: Person, occasion: str = Survey.Occasion.FIRST) -> Survey:
    library()
    return services.begin_survey(instrument=instrument, occasion=occasion, by=by)


def crack(survey: Survey, *, by: Person, **given: Any) -> Finding:
    facts: dict[str, Any] = {
        "group": part("board"),
        "kind": FindingKind.objects.get(code="SB2"),
        "severity": 2,
        "key": secrets.token_urlsafe(12),
    }
    return services.add_finding(survey=survey, by=by, **(facts | given))


def finish(survey: Survey, *, by: Person) -> Survey:
    return services.finish_survey(survey=survey, by=by, why_not="not at this visit", begun_word="found")


def second(instrument: Instrument, *, by: Person) -> Survey:
    """Finish what is open, and begin the one after teardown."""
    open_one = instrument.surveys.filter(finished_at=None).first()
    if open_one:
        finish(open_one, by=by)
    return begin(instrument, by=by, occasion=Survey.Occasion.TEARDOWN)
