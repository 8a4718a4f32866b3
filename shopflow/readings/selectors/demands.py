"""What has to be read once more at the final check: what was read before, where the work touched it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.urls import reverse

from shopflow.catalogue.models import ReadingKind
from shopflow.instruments.models import Instrument, SurveyReading
from shopflow.readings.models import Phase, Reading
from shopflow.readings.sheets import SHEETS
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.stay import Stay
from shopflow.workshop.services.final_check import Lacking, came_back, is_final_check

from .reads import reading_kinds

MOST_TOLD = 4


def readings_after(instrument: Instrument, stay: Stay) -> Iterable[Lacking]:
    """One line for each sheet that wants a value of after the work."""
    since = came_back(instrument)
    before, after = _read_before(instrument, since), _read(instrument, since, Phase.AFTER)
    wanted = before - after
    if not wanted:
        return
    check = next(
        (task for task in (*stay.open_tasks, *stay.signed_tasks) if is_final_check(task.operation)), None
    )
    told: set[int] = set()
    for sheet in sheets_of(stay):
        kinds = [kind for kind in _kinds_on(sheet, instrument) if kind.pk in wanted - told]
        if kinds:
            told |= {kind.pk for kind in kinds}
            yield Lacking("readings", _words(kinds), _where(instrument, check, sheet))


def sheets_of(stay: Stay) -> list[str]:
    """The sheets that belong to the work that was done in this stay."""
    sheets = (task.operation.sheet for task in stay.signed_tasks if task.operation)
    return list(dict.fromkeys(sheet for sheet in sheets if sheet in SHEETS))


def _read_before(instrument: Instrument, since: datetime | None) -> set[int]:
    surveyed = SurveyReading.objects.filter(survey__instrument=instrument, taken_back_at=None)
    if since is not None:
        surveyed = surveyed.filter(at__gte=since)
    return {*surveyed.values_list("kind", flat=True)} | _read(instrument, since, Phase.BEFORE)


def _read(instrument: Instrument, since: datetime | None, phase: str) -> set[int]:
    rows = Reading.objects.filter(sheet__task__instrument=instrument, struck_at=None, phase=phase)
    return set((rows.filter(at__gte=since) if since else rows).values_list("kind", flat=True))


def _kinds_on(sheet: str, instrument: Instrument) -> list[ReadingKind]:
    return reading_kinds(SHEETS[sheet], instrument.kind)


def _words(kinds: list[ReadingKind]) -> str:
    names = ", ".join(kind.name for kind in kinds[:MOST_TOLD]) + (", …" if len(kinds) > MOST_TOLD else "")
    return (
        f"Read before and not since: {names}. Take it on the sheet of the final check, as “after the work”."
    )


def _where(instrument: Instrument, check: Task | None, sheet: str) -> str:
    if check is None:
        return reverse("readings:of-instrument", args=[instrument.number])
    return reverse("readings:sheet-of", args=[check.pk, sheet])
