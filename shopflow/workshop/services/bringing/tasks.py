"""A row's task: an operation of the shop or work in its own words, and the stage in which it stands."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from shopflow.catalogue.models import Department, Operation, Stage

from . import values
from .columns import OF_TASK, named
from .drafts import InstrumentDraft, TaskDraft
from .heading import Heading, Line
from .house import House
from .problems import Problems
from .values import NotAllowed


class TaskReader:
    """Reads the tasks of instruments; what cannot be is named and gives no task."""

    def __init__(self, *, house: House, heading: Heading, problems: Problems) -> None:
        self.house, self.heading, self.problems = house, heading, problems

    def give(self, draft: InstrumentDraft, lines: list[Line]) -> None:
        """Put the tasks of these rows on their instrument, in the order of the file."""
        told_on: dict[object, int] = {}
        for line in lines:
            task = self._task(line, kind=draft.facts.get("kind", ""))
            if task is None:
                continue
            key = task.operation.pk if task.operation else (task.department.pk, task.name.casefold())
            if told_on.setdefault(key, line.line) != line.line:
                allowed = f"each task once; line {told_on[key]} tells of it for {draft.number} already"
                self._problem(line, "task", allowed)
            else:
                draft.tasks.append(task)
        if draft.route and not any("task" in line.cells for line in lines):
            self._start_route(draft, lines)

    def _start_route(self, draft: InstrumentDraft, lines: list[Line]) -> None:
        """The tasks of its route, all on the rack, for an instrument of which the file names none."""
        kind = draft.facts.get("kind", "")
        told = next((line for line in lines if "route" in line.cells), lines[0])
        route = draft.route
        assert route is not None
        plan = self._try(told, "route", lambda _: self.house.plan_of(route, kind)) if kind else None
        if plan is None:
            return
        for operation in plan.operations:
            path = self._try(told, "route", lambda _, one=operation: self.house.path_of(one))
            if path:
                why = plan.why.get(operation.code, "")
                where = operation.department
                draft.tasks.append(
                    TaskDraft(told.line, operation.name, where, path, path[0], operation, why=why)
                )
        draft.by_route = bool(draft.tasks)
        if not draft.tasks:
            self._problem(told, "route", f"a route with operations for {kind}s")

    def _task(self, line: Line, *, kind: str) -> TaskDraft | None:
        if "task" not in line.cells:
            for name in OF_TASK:
                if name in line.cells:
                    self._problem(line, name, "nothing where the row names no task")
            return None
        before = len(self.problems.found)
        department = self._try(line, "department", self.house.department)
        name = self._try(line, "task", lambda typed: values.read("task", typed))
        operation = self._operation(line, department) if name else None
        path = self._path(line, operation, department, kind) if name else None
        stage = self._stage(line, path, operation) if path else None
        hours: Decimal | None = self._try(
            line, "hours_likely", lambda typed: values.read("hours_likely", typed)
        )
        note = self._try(line, "note", lambda typed: values.read("note", typed)) or ""
        if len(self.problems.found) > before or path is None or stage is None:
            return None
        where = operation.department if operation else department
        assert where is not None
        said = operation.name if operation else name
        return TaskDraft(line.line, said, where, path, stage, operation, hours, note)

    def _operation(self, line: Line, department: Department | None) -> Operation | None:
        return self._try(line, "task", lambda typed: self.house.operation(typed, department))

    def _path(
        self, line: Line, operation: Operation | None, department: Department | None, kind: str
    ) -> list[Stage] | None:
        """The stages on the task's way, if the task can be done at all."""
        if operation is None:
            if department is None:
                if "department" not in line.cells:
                    like = self.house.like(line.cells["task"])
                    self._problem(
                        line, "task", f"an operation's code or name, or own words with a department{like}"
                    )
                return None
            return self._try(line, "department", lambda _: self.house.path_at(department))
        if kind and operation.hours_for(kind) is None:
            self._problem(line, "task", f"an operation that is done on {kind}s")
            return None
        return self._try(line, "task", lambda _: self.house.path_of(operation))

    def _stage(self, line: Line, path: list[Stage], operation: Operation | None) -> Stage | None:
        """Where the task stands; signed work is over and is not brought."""
        typed = line.cells.get("stage")
        if typed is None:
            return path[0]
        for stage in path:
            if named(typed) in {named(stage.name), named(stage.code)}:
                if stage != path[0] and operation is not None and operation.at_the_owners:
                    self._problem(
                        line, "stage", "the rack: this is done once the piano is back at its owner's"
                    )
                    return None
                if stage.kind != Stage.Kind.SIGNED:
                    return stage
                self._problem(line, "stage", "a stage before it is signed; leave finished work out")
                return None
        names = ", ".join(stage.name for stage in path[:-1])
        self._problem(line, "stage", f"{names}; or nothing, for the rack")
        return None

    def _try(self, line: Line, name: str, reader: Any) -> Any:
        """What this cell says, or None with a problem named; None for an empty cell."""
        typed = line.cells.get(name)
        if typed is None:
            return None
        try:
            return reader(typed)
        except NotAllowed as wrong:
            self._problem(line, name, str(wrong))
            return None

    def _problem(self, line: Line, name: str, allowed: str) -> None:
        self.problems.add(line.line, self.heading.column(name), line.cells.get(name, "nothing"), allowed)
