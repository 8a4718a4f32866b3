"""One bench sheet laid open: its cautions, its readings, its sums, in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Q

from shopflow.catalogue.models import Caution, ReadingKind, SheetKind
from shopflow.catalogue.selectors import the_shop
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.readings.forms.fields import SumForm
from shopflow.readings.forms.sheet import ReadingForm
from shopflow.readings.models import BenchSheet, CautionSeen, Computed, Reading
from shopflow.readings.parts import Part, Sheet, Sum
from shopflow.readings.sheets import SHEETS
from shopflow.workshop.models import Task

from .history import Earlier, earlier_readings, usual_here
from .lines import Answered, ReadOff, usual_words

LIFTED = {"plate", "lifting", "tipping"}
EARLIER_SHOWN = 20
REMINDER = (
    "This is a reminder, not training: follow local codes, the product’s safety data sheet and "
    "licensed practice."
)


@dataclass(frozen=True, slots=True)
class ShownPart:
    """A part of the sheet as the page shows it."""

    part: Sum | Part
    form: SumForm | None = None
    answers: list[Answered] = field(default_factory=list)
    context: dict[str, Any] = field(default_factory=dict)

    @property
    def latest(self) -> Answered | None:
        return next((one for one in self.answers if one.line.struck_at is None), None)

    @property
    def said(self) -> str:
        """What stands beside its title when it is folded."""
        return self.latest.line.verdict if self.latest else ""

    @property
    def earlier(self) -> list[Answered]:
        return [one for one in self.answers if one is not self.latest][:EARLIER_SHOWN]


@dataclass(frozen=True, slots=True)
class ReadKind:
    """One kind of reading on this sheet: what is usual, and what was read so far, newest last."""

    kind: ReadingKind
    usual: str
    lines: list[ReadOff]
    earlier: list[Earlier]
    usual_here: str


@dataclass(frozen=True, slots=True)
class Warned:
    """A caution; the sentence that ends every one of them stands once for all."""

    caution: Caution

    @property
    def text(self) -> str:
        return self.caution.text.removesuffix(REMINDER).strip()


@dataclass(frozen=True, slots=True)
class OpenSheet:
    task: Task
    sheet: Sheet
    kinds: list[tuple[str, str]]
    cautions: list[Warned]
    unread: list[Warned]
    parts: list[ShownPart]
    reads: list[ReadKind]
    reading_form: ReadingForm | None
    units: str
    may_act: bool
    # The parts that are unfolded: what was asked about, what was worked out last, what the stage asks for.
    unfolded: set[str]

    @property
    def name(self) -> str:
        return SheetKind(self.sheet.kind).label

    @property
    def readings_said(self) -> str:
        taken = sum(line.line.struck_at is None for one in self.reads for line in one.lines)
        return f"{taken} taken" if taken else ""

    @property
    def asks_for_reading(self) -> bool:
        return self.task.stage.needs_reading and self.sheet.kind == _own_kind(self.task)


def kinds_for(task: Task) -> list[str]:
    """Which sheets a task may be worked with: its operation's, and lifting where something heavy is moved."""
    kinds = [_own_kind(task)] if _own_kind(task) else []
    codes = {caution.code for caution in task.operation.cautions.all()} if task.operation else set()
    if codes & LIFTED and SheetKind.LIFTING not in kinds:
        kinds.append(SheetKind.LIFTING)
    return [str(kind) for kind in kinds]


def _own_kind(task: Task) -> str:
    return task.operation.sheet if task.operation else ""


def open_sheet(task: Task, kind: str, *, viewer: Person, typed: dict[str, Any] | None = None) -> OpenSheet:
    """The sheet of this kind. `typed` holds forms that come back with what is wrong with them, by part."""
    sheet, units, typed = SHEETS[kind], the_shop().units, typed or {}
    answers = _answers(task, kind, units)
    reads = _reads(task, sheet, units)
    cautions = cautions_of(task, sheet)
    seen = set(CautionSeen.objects.filter(task=task, person=viewer).values_list("caution_id", flat=True))
    parts = [
        _shown(part, task, viewer, answers, typed, units)
        for part in sheet.parts
        if part.fits(task.instrument.kind)
    ]
    return OpenSheet(
        task=task,
        sheet=sheet,
        kinds=[(one, SheetKind(one).label) for one in dict.fromkeys([*kinds_for(task), kind])],
        cautions=[Warned(caution) for caution in cautions],
        unread=[Warned(caution) for caution in cautions if caution.pk not in seen],
        parts=parts,
        reads=reads,
        reading_form=typed.get("reading") or _reading_form(reads, units),
        units=units,
        may_act=access.may(viewer, Deed.READINGS, bench=task.department) and task.dropped_at is None,
        unfolded=_unfolded(task, parts, reads, asked=set(typed)),
    )


def _unfolded(task: Task, parts: list[ShownPart], reads: list[ReadKind], *, asked: set[str]) -> set[str]:
    if asked:
        return asked
    worked_out = [(part.latest.line.at, part.part.code) for part in parts if part.latest]
    wanted = {max(worked_out)[1]} if worked_out else set()
    if task.earliest_touch:
        wanted.add("cure")
    if task.stage.needs_reading or any(one.lines for one in reads) or not parts:
        wanted.add("reading")
    return wanted or {parts[0].part.code}


def _shown(
    part: Sum | Part,
    task: Task,
    viewer: Person,
    answers: dict[str, list[Answered]],
    typed: dict[str, Any],
    units: str,
) -> ShownPart:
    if isinstance(part, Part):
        context = part.context(task, viewer)
        if part.code in typed:
            context |= {"form": typed[part.code]}
        return ShownPart(part, context=context)
    given = answers.get(part.code, [])
    return ShownPart(part, form=typed.get(part.code) or _form(part, task, given, units), answers=given)


def _form(part: Sum, task: Task, answers: list[Answered], units: str) -> SumForm:
    """What was typed last stands in the form again, so that one value can be changed."""
    if answers:
        last = answers[0].line.typed
        initial = {name: f"{one['typed']} {one.get('unit', '')}".strip() for name, one in last.items()}
    else:
        initial = part.usual(task, units) if part.usual else {}
    return part.form(initial=initial, units=units, auto_id=f"{part.code}_%s")


def _answers(task: Task, kind: str, units: str) -> dict[str, list[Answered]]:
    found: dict[str, list[Answered]] = defaultdict(list)
    lines = Computed.objects.filter(sheet__task=task, sheet__kind=kind)
    for line in lines.select_related("by", "struck_by").order_by("-at", "-pk"):
        found[line.code].append(Answered(line, units))
    return found


def _reads(task: Task, sheet: Sheet, units: str) -> list[ReadKind]:
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


def reading_kinds(sheet: Sheet, built: str, *, also: Any = ()) -> list[ReadingKind]:
    """What is read on this sheet of an upright or a grand, and what was read on it before."""
    usual = Q(code__in=sheet.reads) | Q(group__code__in=sheet.read_groups)
    fits = Q(only_for="") | Q(only_for=built)
    kinds = ReadingKind.objects.filter((usual & fits) | Q(pk__in=list(also)))
    return sorted(kinds.distinct(), key=lambda kind: (_place(sheet, kind), kind.position, kind.code))


def _place(sheet: Sheet, kind: ReadingKind) -> int:
    return sheet.reads.index(kind.code) if kind.code in sheet.reads else len(sheet.reads)


def _reading_form(reads: list[ReadKind], units: str) -> ReadingForm | None:
    """The last kind and phase are offered again: readings come in runs."""
    if not reads:
        return None
    taken = [(line.line.at, line.line) for one in reads for line in one.lines]
    last = max(taken, key=lambda pair: pair[0])[1] if taken else None
    initial = {"kind": last.kind.code, "phase": last.phase} if last else {"kind": reads[0].kind.code}
    return ReadingForm(kinds=[one.kind for one in reads], units=units, initial=initial)


def cautions_of(task: Task, sheet: Sheet) -> list[Caution]:
    """What stands on top: the cautions of the operation and those of this kind of sheet."""
    wanted = Q(code__in=sheet.cautions)
    if task.operation_id:
        wanted |= Q(operations=task.operation_id)
    return list(Caution.objects.filter(wanted).distinct())


def sheets_of(task: Task) -> list[BenchSheet]:
    return list(BenchSheet.objects.filter(task=task))
