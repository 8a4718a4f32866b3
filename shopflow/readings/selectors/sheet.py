"""One bench sheet laid open: its cautions, its readings, its sums, in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from shopflow.catalogue.models import SheetKind
from shopflow.catalogue.selectors import the_shop
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.readings.forms.fields import SumForm
from shopflow.readings.forms.sheet import ReadingForm
from shopflow.readings.models import CautionSeen, Computed
from shopflow.readings.parts import Part, Sheet, Sum
from shopflow.readings.sheets import SHEETS
from shopflow.workshop.models import Task

from .lines import Answered
from .reads import ReadKind, reading_form, reads_of
from .which import Warned, cautions_of, kinds_for, own_kind

EARLIER_SHOWN = 20


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
        return self.latest.line.verdict if self.latest else str(self.context.get("said", ""))

    @property
    def earlier(self) -> list[Answered]:
        return [one for one in self.answers if one is not self.latest][:EARLIER_SHOWN]


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
        return self.task.stage.needs_reading and self.sheet.kind == own_kind(self.task)


def open_sheet(task: Task, kind: str, *, viewer: Person, typed: dict[str, Any] | None = None) -> OpenSheet:
    """The sheet of this kind. `typed` holds forms that come back with what is wrong with them, by part."""
    sheet, units, typed = SHEETS[kind], the_shop().units, typed or {}
    answers = _answers(task, kind, units)
    reads = reads_of(task, sheet, units)
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
        reading_form=typed.get("reading") or reading_form(reads, units),
        units=units,
        may_act=access.may(viewer, Deed.READINGS, bench=task.department) and task.dropped_at is None,
        unfolded=_unfolded(task, parts, reads, asked=set(typed)),
    )


def _unfolded(task: Task, parts: list[ShownPart], reads: list[ReadKind], *, asked: set[str]) -> set[str]:
    if asked:
        return asked
    worked_out = [(part.latest.line.at, part.part.code) for part in parts if part.latest]
    wanted = {max(worked_out)[1]} if worked_out else set()
    wanted |= {part.part.code for part in parts if isinstance(part.part, Part) and part.part.leads}
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
