"""Which open tasks of an instrument a change order touches: only those stop while the answer is awaited."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from shopflow.catalogue.models import Remedy
from shopflow.compute import worknet
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.instrument import ties_of

from .extra import JobUnderWay

OWN = "it is part of what can be done about it"


@dataclass(frozen=True, slots=True)
class Touched:
    """An open task, why it is touched, and whether it had better stop."""

    task: Task
    why: str
    should_stop: bool


def touched_by(instrument: Instrument, remedies: Iterable[Remedy]) -> list[Touched]:
    """The tasks that the remedies are, that come after them or fall away, or that they need; in job's order.

    What waits for a task that stops anyway needs no snag of its own.
    """
    job = JobUnderWay.of(instrument)
    why: dict[str, tuple[str, bool]] = {}
    for remedy in remedies:
        change = job.change(remedy)
        if change is not None:
            for code, told in _touched(job, remedy, change).items():
                if code not in why or (told[1] and not why[code][1]):
                    why[code] = told
    found = [
        Touched(task, *why[task.operation.code])
        for task in open_tasks(instrument)
        if task.operation and task.operation.code in why
    ]
    return _without_those_behind(found, instrument)


def open_tasks(instrument: Instrument) -> list[Task]:
    tasks = Task.objects.open().before_leaving().filter(instrument=instrument)
    return list(tasks.select_related("department", "stage", "operation").order_by("position", "pk"))


def _touched(job: JobUnderWay, remedy: Remedy, change: worknet.Extra) -> dict[str, tuple[str, bool]]:
    """By code of open work, why one remedy touches it and whether it stops."""
    own, known = set(job.codes_of(remedy)), job.knowledge
    added = own | change.added
    found = {
        code: ("it opens the way for it in any case, so it may go on", False)
        for code in job.stay.todo
        if code not in added and _opens_for(job, code, added)
    }
    whole = frozenset(job.stay.todo) - change.away | change.added | own
    ties = known.order(whole, known.replay(job.stay.done))
    for code in change.touched:
        tie = next((tie for tie in ties if tie.after == code and tie.before in added), None)
        if tie is None:
            found[code] = ("it comes after what would be done about it", True)
        else:
            found[code] = (f"it comes after “{known.name(tie.before)}” ({tie.reason})", True)
    for code in change.away:
        found[code] = (" ".join(change.reasons.get(code, ("it would be needless then",))), True)
    return found | dict.fromkeys(own & set(job.stay.todo), (OWN, True))


def _opens_for(job: JobUnderWay, code: str, added: set[str]) -> bool:
    """Does this open work open the piano as far as something added needs it?"""
    opens = job.knowledge.work(code).opens
    needs = [job.knowledge.work(one).at_most for one in added]
    return any(line in most and level <= most[line] for line, level in opens.items() for most in needs)


def _without_those_behind(found: list[Touched], instrument: Instrument) -> list[Touched]:
    """What needs, directly or through others, a task that stops, waits for that one already."""
    needs: dict[int, set[int]] = defaultdict(set)
    for task, needed in ties_of(instrument):
        needs[task].add(needed)
    stops = {one.task.pk: one.task.name for one in found if one.should_stop}
    told = []
    for one in found:
        ahead = next((pk for pk in _all_needs(one.task.pk, needs) if pk in stops), None)
        if one.should_stop and ahead is not None:
            one = replace(one, why=f"it waits for “{stops[ahead]}” anyway", should_stop=False)
        told.append(one)
    return told


def _all_needs(task: int, needs: dict[int, set[int]]) -> list[int]:
    """Everything that this task waits for, the nearest first."""
    seen, waiting = list[int](), [*sorted(needs[task])]
    while waiting:
        here = waiting.pop(0)
        if here not in seen:
            seen.append(here)
            waiting += sorted(needs[here])
    return seen
