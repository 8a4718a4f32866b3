"""The readings of a sheet: what is read on it, what was, and what it may be held against."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q

from shopflow.catalogue.models import ReadingKind
from shopflow.readings.forms.sheet import ReadingForm
from shopflow.readings.models import Reading
from shopflow.readings.parts import Sheet
from shopflow.workshop.models import Task

from .history import Earlier, earlier_readings, usual_here
from .lines import ReadOff, usual_words


@dataclass(frozen=True, slots=True)
class ReadKind:
    """One kind of reading on this sheet: what is usual, and what was read so far, newest last."""

    kind: ReadingKind
    usual: str
    lines: list[ReadOff]
    earlier: list[Earlier]
    usual_here: str


def reads_of(task: Task, sheet: Sheet, units: str) -> list[ReadKind]:
    lines: dict[int, list[ReadOff]] = defaultdict(list)
    taken = Reading.objects.filter(sheet__task=task, sheet__kind=sheet.kind)
    for line in taken.select_related("kind", "by", "struck_by").order_by("at", "pk"):
        lines[line.kind_id].append(ReadOff(line, units))
    kinds = reading_kinds(sheet, task.instrument.kind, also=lines)
    earlier, here = earlier_readings(task, kinds, units), usual_here(task, kinds, units)
    return [
        ReadKind(
            kind,
            usual_words(kind, units),
            lines.get(kind.pk, []),
            earlier.get(kind.pk, []),
            here.get(kind.pk, ""),
        )
        for kind in kinds
    ]


def reading_kinds(sheet: Sheet, built: str, *, also: Iterable[int] = ()) -> list[ReadingKind]:
    """What is read on this sheet of an upright or a grand, and what was read on it before."""
    usual = Q(code__in=sheet.reads) | Q(group__code__in=sheet.read_groups)
    fits = Q(only_for="") | Q(only_for=built)
    kinds = ReadingKind.objects.filter((usual & fits) | Q(pk__in=list(also)))
    return sorted(kinds.distinct(), key=lambda kind: (_place(sheet, kind), kind.position, kind.code))


def _place(sheet: Sheet, kind: ReadingKind) -> int:
    return sheet.reads.index(kind.code) if kind.code in sheet.reads else len(sheet.reads)


def reading_form(reads: list[ReadKind], units: str) -> ReadingForm | None:
    """The last kind and phase are offered again: readings come in runs."""
    if not reads:
        return None
    taken = [(line.line.at, line.line) for one in reads for line in one.lines]
    last = max(taken, key=lambda pair: pair[0])[1] if taken else None
    initial = {"kind": last.kind.code, "phase": last.phase} if last else {"kind": reads[0].kind.code}
    return ReadingForm(kinds=[one.kind for one in reads], units=units, initial=initial)
