"""The report of what a survey found: what matters first, what could not be seen, what was read."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from shopflow.catalogue.models import Units
from shopflow.compute.unsafe import GRAVEST

from ..models import Finding, GroupLook, Instrument, Survey, SurveyReading
from .findings import CurrentFinding, by_consequence, standing_of
from .safety import is_unsafe
from .survey import instrument_rows
from .survey_group import ReadingShown, shown

GRADES = {
    0: "as new",
    1: "cosmetic, or to watch",
    2: "affects playing or looks, and will grow",
    3: "does not do its job, or damages other parts",
    4: "unsafe or structural: stop",
}


@dataclass(frozen=True, slots=True)
class Told:
    """One finding in the report, with its photos."""

    found: CurrentFinding
    photos: list[Any]

    @property
    def grade(self) -> str:
        return GRADES[self.found.severity]


@dataclass(frozen=True, slots=True)
class Report:
    instrument: Instrument
    surveys: list[Survey]
    # Each survey with the air in which it was made.
    airs: list[tuple[Survey, str]] = field(default_factory=list)
    told: list[Told] = field(default_factory=list)
    mended: list[CurrentFinding] = field(default_factory=list)
    unseen: list[GroupLook] = field(default_factory=list)
    good: list[GroupLook] = field(default_factory=list)
    readings: list[ReadingShown] = field(default_factory=list)

    @property
    def unsafe(self) -> list[Told]:
        return [one for one in self.told if one.found.severity == GRAVEST or is_unsafe(one.found)]

    @property
    def open_survey(self) -> Survey | None:
        return next((survey for survey in self.surveys if survey.finished_at is None), None)


def survey_report(instrument: Instrument, *, units: str) -> Report:
    """The standing picture over all surveys; of groups and readings the last word: six queries.

    Findings are ordered by consequence. Of each group the last survey that saw anything of it speaks; it
    counts as unseen when that was only partly, or when none did. Of readings those of the newest survey that
    took any of a kind are shown.
    """
    surveys = list(instrument.surveys.select_related("by").order_by("number"))
    rows = instrument_rows(instrument)
    standing = standing_of(row for row in rows if row.taken_back_at is None)
    photos = _photos(standing)
    looks = _last_looks(surveys)
    against = {one.group.pk for one in standing if one.state != Finding.State.MENDED}
    return Report(
        instrument=instrument,
        surveys=surveys,
        airs=[(survey, air_words(survey, units)) for survey in surveys],
        told=[
            Told(one, photos.get(one.pk, []))
            for one in by_consequence(standing)
            if one.state != Finding.State.MENDED
        ],
        mended=[one for one in standing if one.state == Finding.State.MENDED],
        unseen=[look for look in looks if look.word in {GroupLook.Word.NOT, GroupLook.Word.PARTLY}],
        good=[look for look in looks if look.word == GroupLook.Word.GOOD and look.group_id not in against],
        readings=[shown(reading, units) for reading in _last_readings(surveys)],
    )


def air_words(survey: Survey, units: str) -> str:
    """The air of the room as this shop reads it; empty where nobody looked."""
    said = []
    if survey.room_c is not None:
        inch = units == Units.INCH
        said.append(f"{survey.room_c * Decimal('1.8') + 32:.0f} °F" if inch else f"{survey.room_c:g} °C")
    if survey.room_rh is not None:
        said.append(f"{survey.room_rh:.0f} % humidity")
    return ", ".join(said)


def _photos(standing: list[CurrentFinding]) -> dict[int, list[Any]]:
    """Photos of a finding and of what was said of it later; by the name of their relation, from above."""
    home = {row.pk: one.pk for one in standing for row in (one.first, one.latest)}
    rows = Finding.objects.filter(pk__in=home).prefetch_related("photos")
    photos: dict[int, list[Any]] = {}
    for row in rows:
        ready = [photo for photo in row.photos.all() if photo.state == "ready" and not photo.hidden_at]
        photos.setdefault(home[row.pk], []).extend(ready)
    return photos


def _last_looks(surveys: list[Survey]) -> list[GroupLook]:
    looks = GroupLook.objects.filter(survey__in=surveys).select_related("group", "survey")
    last: dict[int, GroupLook] = {}
    for look in looks.order_by("survey__number"):
        # Not coming to a part again takes nothing from what an earlier survey saw of it.
        if look.word != GroupLook.Word.NOT or look.group_id not in last:
            last[look.group_id] = look
    return sorted(last.values(), key=lambda look: look.group.position)


def _last_readings(surveys: list[Survey]) -> list[SurveyReading]:
    taken = SurveyReading.objects.filter(survey__in=surveys, taken_back_at=None)
    rows = list(
        taken.select_related("kind__group", "survey").order_by(
            "kind__group__position", "kind__position", "pk"
        )
    )
    newest: dict[int, int] = {}
    for row in rows:
        newest[row.kind_id] = max(newest.get(row.kind_id, 0), row.survey.number)
    return [row for row in rows if row.survey.number == newest[row.kind_id]]
