"""Lines of a bench sheet: taken, worked out, struck. Each counts once, however often its tap is sent."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import Max

from shopflow.catalogue.models import ReadingKind
from shopflow.catalogue.selectors import the_shop
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.compute.errors import ComputeError
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.people.taps import TapIn
from shopflow.readings.measures import Measure, quantity_of, tidy
from shopflow.readings.models import BenchSheet, Computed, Phase, Reading
from shopflow.readings.parts import Outcome, Sum
from shopflow.workshop.models import Task
from shopflow.workshop.services.taps import Answer, once

MEASURED_AGAIN = "measured again"
BEYOND_SENSE = "Kept after a yes. It lies beyond what can be worked out, so there is no answer."


def take_reading(
    *,
    task_id: int,
    sheet: str,
    kind: ReadingKind,
    measure: Measure,
    by: Person,
    tap: TapIn,
    phase: str = Phase.DURING,
    place: str = "",
    yes: bool = False,
) -> Answer:
    """Write one value on a task's sheet. Beyond what is possible it is kept only after a yes, and marked."""
    body = {"deed": "reading", "task": task_id, "sheet": sheet, "kind": kind.code, "phase": phase}
    body |= {"place": place, "by": by.pk, "yes": yes, **measure.as_data()}

    def deed() -> dict[str, Any]:
        task = task_at_own_bench(task_id, by)
        beyond = _beyond(kind, measure)
        if beyond and not yes:
            raise Refused(f"{kind.name}: {beyond} Measured again?", field="typed", ask=MEASURED_AGAIN)
        line = Reading.objects.create(
            sheet=_sheet_of(task, sheet, by),
            kind=kind,
            phase=phase,
            place=place,
            typed=measure.typed,
            unit=measure.unit,
            value=measure.value,
            measured_again=bool(beyond),
            **_signed(by, tap),
        )
        _note_that_it_was_read(task)
        where = f" {place}" if place else ""
        words = f"{task.instrument.number}: {kind.name}{where} {measure} is on the sheet."
        return {"task": task.pk, "reading": line.pk, "words": words}

    return once(tap, body=body, deed=deed)


def compute(
    *,
    task_id: int,
    sheet: str,
    of: Sum,
    typed: Mapping[str, Any],
    given: Mapping[str, Any],
    by: Person,
    tap: TapIn,
    beyond: bool = False,
) -> Answer:
    """Work a sum out and keep what was typed, what came out, the verdict and the version that said so.

    `beyond`: something typed lies beyond what is possible and is kept after a yes, without an answer.
    """
    body = {"deed": "sum", "task": task_id, "sheet": sheet, "sum": of.code, "by": by.pk, "typed": typed}

    def deed() -> dict[str, Any]:
        task = task_at_own_bench(task_id, by)
        outcome = Outcome([], BEYOND_SENSE) if beyond else _worked_out(of, given)
        line = Computed.objects.create(
            sheet=_sheet_of(task, sheet, by),
            code=of.code,
            typed=dict(typed),
            outputs=outcome.as_data(),
            verdict=outcome.verdict,
            version=of.version,
            measured_again=beyond,
            **_signed(by, tap),
        )
        _note_that_it_was_read(task)
        said = outcome.verdict or "It is on the sheet."
        return {"task": task.pk, "computed": line.pk, "words": f"{of.title} {said}"}

    return once(tap, body=body | {"beyond": beyond}, deed=deed)


def strike(*, line: Reading | Computed, reason: str, by: Person, tap: TapIn) -> Answer:
    """Take a line off a sheet's account: it stays to be seen, struck through, with who, when and why."""
    what = "reading" if isinstance(line, Reading) else "computed"
    body = {"deed": "strike", "what": what, "line": line.pk, "by": by.pk, "reason": reason}

    def deed() -> dict[str, Any]:
        row = type(line).objects.select_for_update(of=("self",)).get(pk=line.pk)
        task = task_at_own_bench(line.sheet.task_id, by)
        if not reason:
            raise Refused("Striking a line needs a reason.", field="reason")
        if row.struck_at is not None:
            raise Refused("This line was struck already.")
        row.struck_at, row.struck_by, row.struck_reason = clock.now(), by, reason
        row.save(update_fields=["struck_at", "struck_by", "struck_reason"])
        _note_that_it_was_read(task)
        return {"task": task.pk, what: row.pk, "words": f"{task.instrument.number}: struck, {reason}."}

    return once(tap, body=body, deed=deed)


def task_at_own_bench(task_id: int, by: Person) -> Task:
    """The task, locked, for someone who may write on its sheet."""
    task = (
        Task.objects.select_for_update(of=("self",))
        .select_related("instrument", "department", "stage", "operation")
        .get(pk=task_id)
    )
    access.require(by, Deed.READINGS, bench=task.department)
    if task.dropped_at is not None:
        raise Refused(f"{task} was dropped: {task.dropped_reason}")
    return task


def _sheet_of(task: Task, kind: str, by: Person) -> BenchSheet:
    made, _ = BenchSheet.objects.get_or_create(
        task=task, kind=kind, defaults={"opened_by": by, "opened_at": clock.now()}
    )
    return made


def _signed(by: Person, tap: TapIn) -> dict[str, Any]:
    return {"by": by, "at": clock.now(), "client": tap.client, "key": tap.key}


def _note_that_it_was_read(task: Task) -> None:
    """The stage may ask for a reading: the task says when its last one was taken that was not struck."""
    lines = (model.objects.filter(sheet__task=task, struck_at=None) for model in (Reading, Computed))
    moments = [rows.aggregate(last=Max("at"))["last"] for rows in lines]
    task.read_at = max((moment for moment in moments if moment is not None), default=None)
    task.save(update_fields=["read_at"])
    pulse.bump()


def _worked_out(of: Sum, given: Mapping[str, Any]) -> Outcome:
    try:
        return of.answer(given)
    except ComputeError as error:
        raise Refused(f"{error}. Measured again?", field=error.field) from error


def _beyond(kind: ReadingKind, measure: Measure) -> str:
    """What is wrong with a value beyond physical sense, in this shop's units; empty where it is possible."""
    low, high = kind.possible_low, kind.possible_high
    inside = (low is None or measure.value >= low) and (high is None or measure.value <= high)
    if inside:
        return ""
    unit = quantity_of(kind).unit(the_shop().units)
    bounds = [tidy(unit.shown(float(each)), kind.decimals) for each in (low, high) if each is not None]
    word = "" if low is not None and high is not None else ("at least " if high is None else "at most ")
    return f"got {measure}; possible is {word}{' to '.join(bounds)} {unit.name}.".replace(" .", ".")
