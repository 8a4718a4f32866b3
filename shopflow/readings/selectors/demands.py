"""What has to be read once more at the final check: what was read before, where the work touched it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.urls import reverse

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import ReadingKind
from shopflow.compute.proof import Proof
from shopflow.instruments.models import Instrument, SurveyReading
from shopflow.readings.models import Phase, Reading
from shopflow.readings.sheets import SHEETS
from shopflow.readings.what_is_read import READS
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.stay import Stay
from shopflow.workshop.services.final_check import Lacking, came_back, is_final_check

from .reads import reading_kinds

MOST_TOLD = 4


def readings_after(instrument: Instrument, stay: Stay) -> Iterable[Lacking]:
    """One line for each sheet that wants a value of after the work."""
    missing = read_again(instrument, stay)
    missing -= _read(instrument, came_back(instrument), Phase.AFTER)
    tasks = (*stay.open_tasks, *stay.signed_tasks)
    check = next((task for task in tasks if is_final_check(task.operation)), None)
    for sheet, kinds in _by_sheet(missing, instrument).items():
        yield Lacking("readings", _words(kinds), _where(instrument, check, sheet))


def read_again(instrument: Instrument, stay: Stay) -> set[int]:
    """The kinds that were read before the work and that the work changed, whether read again yet or not."""
    before = _read_before(instrument, came_back(instrument))
    if not before or not stay.done:
        return set()
    proof = Proof(knowledge(instrument.kind), stay.done)
    codes = ReadingKind.objects.filter(pk__in=before, code__in=READS).values_list("pk", "code")
    return {pk for pk, code in codes if proof.last_that_changed(READS[code]) is not None}


def sheets_for_reading_again(instrument: Instrument, stay: Stay) -> list[str]:
    return list(_by_sheet(read_again(instrument, stay), instrument))


def _by_sheet(kinds: set[int], instrument: Instrument) -> dict[str, list[ReadingKind]]:
    """Each kind on the first sheet that it is read on; what is on none is asked for nowhere."""
    told: dict[str, list[ReadingKind]] = {}
    for sheet in SHEETS:
        if not kinds:
            break
        there = [kind for kind in reading_kinds(SHEETS[sheet], instrument.kind) if kind.pk in kinds]
        if there:
            told[sheet], kinds = there, kinds - {kind.pk for kind in there}
    return told


def _read_before(instrument: Instrument, since: datetime | None) -> set[int]:
    surveyed = SurveyReading.objects.filter(survey__instrument=instrument, taken_back_at=None)
    if since is not None:
        surveyed = surveyed.filter(at__gte=since)
    return {*surveyed.values_list("kind", flat=True)} | _read(instrument, since, Phase.BEFORE)


def _read(instrument: Instrument, since: datetime | None, phase: str) -> set[int]:
    rows = Reading.objects.filter(sheet__task__instrument=instrument, struck_at=None, phase=phase)
    return set((rows.filter(at__gte=since) if since else rows).values_list("kind", flat=True))


def _words(kinds: list[ReadingKind]) -> str:
    names = ", ".join(kind.name for kind in kinds[:MOST_TOLD]) + (", …" if len(kinds) > MOST_TOLD else "")
    return (
        f"Read before and not since: {names}. Take it on the sheet of the final check, as “after the work”."
    )


def _where(instrument: Instrument, check: Task | None, sheet: str) -> str:
    if check is None:
        return reverse("readings:of-instrument", args=[instrument.number])
    return reverse("readings:sheet-of", args=[check.pk, sheet])
