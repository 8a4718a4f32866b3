"""Adding to a job under way, and taking out of it: each one deed, tied anew and told in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from django.db import transaction

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Operation, Stage
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.compute.errors import ComputeError
from shopflow.compute.worknet import Extra, Knowledge
from shopflow.instruments.models import Instrument
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import Task, TaskNeed
from shopflow.workshop.selectors.laid_out import newest_task
from shopflow.workshop.selectors.stay import Stay, stay_of
from shopflow.workshop.services import moves, passages

from .laying import lay_out
from .plan import in_order_of_work, plan_job, why_of
from .tasks import next_position, task_for, with_relations
from .tying import overtaken, pairs_of, places_of, tie_open_work

NO_EXTRA = Extra(frozenset(), frozenset(), frozenset(), frozenset(), frozenset())


@dataclass(frozen=True, slots=True)
class WorkToAdd:
    """What adding these operations to a job would do, before anything is written.

    `operations` come on top, of these `again` for the second time; `present` is open already; `away` is open
    work that becomes needless; `in_vain` are names of signed work that is thrown away; `touched` comes after.
    """

    operations: list[Operation]
    why: Mapping[str, str] = field(default_factory=dict)
    again: frozenset[str] = frozenset()
    present: tuple[Task, ...] = ()
    away: tuple[Task, ...] = ()
    in_vain: tuple[str, ...] = ()
    touched: tuple[Task, ...] = ()
    why_away: Mapping[str, str] = field(default_factory=dict)

    @property
    def besides(self) -> list[Operation]:
        """What nobody named."""
        return [operation for operation in self.operations if operation.code in self.why]

    @property
    def is_more_than_asked(self) -> bool:
        return bool(self.besides or self.away or self.in_vain)


@dataclass(frozen=True, slots=True)
class AddedWork:
    """What was done: tasks in an order of work, those that were there already, those that fell away."""

    tasks: list[Task]
    present: tuple[Task, ...] = ()
    dropped: tuple[Task, ...] = ()
    touched: tuple[Task, ...] = ()
    in_vain: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The deed in a sentence or two."""
        said = []
        if self.tasks:
            said.append("Added: " + _listed(self.tasks) + ".")
        if self.present:
            said.append("In the job already: " + _listed(self.present) + ".")
        if self.dropped:
            said.append("Dropped, because needless now: " + _listed(self.dropped) + ".")
        if self.in_vain:
            said.append("Done in vain: " + ", ".join(f"“{name}”" for name in self.in_vain) + ".")
        return " ".join(said)


def what_to_add(*, instrument: Instrument, operations: Sequence[Operation], twice: bool = False) -> WorkToAdd:
    """What adding these would do to the job; with `twice`, what is open already is added again."""
    named = with_relations(operations, kind=instrument.kind)
    if not named:
        raise Refused("This operation is not done on this kind of instrument.")
    stay = stay_of(instrument)
    if stay.is_empty:
        plan = plan_job(named, kind=instrument.kind, done=stay.done)
        return WorkToAdd(plan.operations, plan.why)
    known = knowledge(instrument.kind)
    codes = [one.code for one in named]
    extra = _extra(stay.among(known.codes), known, [code for code in codes if code in known.codes])
    more = [code for code in codes if code not in known.codes or twice]
    open_now = set(stay.todo)
    fresh = {*extra.added, *(code for code in more if twice or code not in open_now)}
    everything = with_relations(named, kind=instrument.kind, codes=fresh - set(codes))
    by_code = {one.code: one for one in everything if one.code in fresh}
    ties = known.order(fresh & known.codes, start=known.replay(stay.among(known.codes).done))
    line = in_order_of_work(
        [code for code in codes if code in by_code], by_code, [(tie.before, tie.after) for tie in ties]
    )
    return WorkToAdd(
        operations=[by_code[code] for code in line],
        why={code: why_of(extra.reasons, code) for code in by_code if code not in codes},
        again=extra.again,
        present=_of(stay, _answering(set(codes) - fresh, known)),
        away=_of(stay, extra.away),
        in_vain=tuple(known.name(code) for code in sorted(extra.in_vain)),
        touched=_of(stay, extra.touched),
        why_away={code: why_of(extra.reasons, code) for code in extra.away},
    )


def _answering(codes: set[str], known: Knowledge) -> set[str]:
    """What answers for work that is not added: it is open already, or makes it needless."""
    return codes.union(*(known.instead_of(code) for code in codes & known.codes))


def _extra(stay: Stay, known: Knowledge, codes: Sequence[str]) -> Extra:
    if not codes:
        return NO_EXTRA
    try:
        return known.extra(stay.done, stay.todo, codes)
    except ComputeError as error:
        raise Refused(f"This does not go with the work that is open: {error}") from error


def _of(stay: Stay, codes: set[str] | frozenset[str]) -> tuple[Task, ...]:
    return tuple(task for task in stay.open_tasks if task.operation and task.operation.code in codes)


@transaction.atomic
def add_work(
    *,
    instrument: Instrument,
    operations: Sequence[Operation],
    by: Person,
    name: str = "",
    note: str = "",
    seen_newest: int | None = None,
    twice: bool = False,
    because: str = "",
) -> AddedWork:
    """Add operations to a job in the state in which it stands, with all that they open and close again.

    Open work is tied anew where that state asks for it, and what has become needless is dropped in the same
    deed. A name or a note given belongs to the last of the operations. With `seen_newest`, the newest task
    that the person saw, nothing is added to a list that has grown since. With `twice`, an operation that is
    open already is added once more. `because` stands before the reason of what is dropped.
    """
    access.require(by, Deed.INSTRUMENTS)
    Instrument.objects.select_for_update().get(pk=instrument.pk)
    if seen_newest is not None and seen_newest != newest_task(instrument):
        raise Refused("A task was added since this page was opened. Look first, then add it if need be.")
    wanted = what_to_add(instrument=instrument, operations=operations, twice=twice)
    if stay_of(instrument).is_empty:
        tasks = lay_out(instrument=instrument, operations=operations, by=by)
        _call(tasks, operations, name, note)
        return AddedWork(tasks)
    last = next_position(instrument)
    tasks = Task.objects.bulk_create(
        task_for(one, instrument=instrument, position=last + place, why=wanted.why.get(one.code, ""))
        for place, one in enumerate(wanted.operations)
    )
    _call(tasks, operations, name, note)
    for task in wanted.away:
        why = wanted.why_away.get(task.operation.code, "") if task.operation else ""
        why = why or f"needless beside {_listed(tasks)}"
        _write_dropped(task, by=by, reason=f"{because}: {why}" if because else why)
    _tie_and_place(instrument, tasks, by=by)
    passages.settle(instrument, by=by)
    pulse.bump()
    return AddedWork(tasks, wanted.present, wanted.away, wanted.touched, wanted.in_vain)


@transaction.atomic
def add_alone(*, instrument: Instrument, operation: Operation, by: Person, why: str) -> Task:
    """Add one piece of work that the job lacks, and nothing besides; tied as the state of the piano asks."""
    access.require(by, Deed.INSTRUMENTS)
    Instrument.objects.select_for_update().get(pk=instrument.pk)
    if operation.code in stay_of(instrument).todo:
        raise Refused(f"“{operation.name}” is in the job already.")
    known = with_relations([operation], kind=instrument.kind)
    if not known:
        raise Refused("This operation is not done on this kind of instrument.")
    task = task_for(known[0], instrument=instrument, position=next_position(instrument), why=why)
    task.save()
    _tie_and_place(instrument, [task], by=by)
    passages.settle(instrument, by=by)
    pulse.bump()
    return task


def _call(tasks: Sequence[Task], operations: Sequence[Operation], name: str, note: str) -> None:
    """Give the task of the last operation named its own name and note."""
    if not (name or note):
        return
    mine = next((task for task in tasks if operations and task.operation_id == operations[-1].pk), None)
    if mine is not None:
        mine.name, mine.note = name or mine.name, note
        mine.save(update_fields=["name", "note"])


def _tie_and_place(instrument: Instrument, fresh: Sequence[Task], *, by: Person) -> None:
    """Tie the open work as its state asks now, and put what is fresh where it belongs in the list.

    Work in hand that comes after fresh work goes back on the rack: what was done of it is done in vain, and
    nobody else gets at the parts that it holds.
    """
    known = knowledge(instrument.kind)
    for tie in overtaken(stay_of(instrument), known, {task.pk for task in fresh}):
        moves.put_back(tie.later, by=by, reason=f"first “{tie.earlier.name}”, which was added")
    tie_open_work(stay_of(instrument), known)
    if not fresh:
        return
    new = {task.pk for task in fresh}
    there = Task.objects.in_the_job().filter(instrument=instrument).order_by("position", "pk")
    line = places_of(fresh, [task for task in there if task.pk not in new], pairs_of(instrument.pk))
    for place, task in enumerate(line):
        task.position = place
    Task.objects.bulk_update(line, ["position"])


def what_dropping_means(task: Task) -> tuple[str, ...]:
    """What becomes wrong in the job once this task is out of it, in words; nothing: it may go."""
    known = knowledge(task.instrument.kind)
    stay = stay_of(task.instrument).among(known.codes)
    code = task.operation.code if task.operation else ""
    twin = [one for one in stay.open_tasks if one.pk != task.pk and one.operation_id == task.operation_id]
    if code not in stay.todo or twin:
        return ()
    return known.dropping(stay.todo, code, start=known.replay(stay.done))


@transaction.atomic
def drop_task(*, task: Task, by: Person, reason: str) -> None:
    """Take a task out of the job. It stays in the records; what waited for it is tied anew."""
    access.require(by, Deed.INSTRUMENTS)
    task = Task.objects.select_for_update(of=("self",)).select_related("instrument", "stage").get(pk=task.pk)
    if task.dropped_at is not None:
        raise Refused(f"{task} was dropped already.")
    if not reason.strip():
        raise Refused("Dropping a task needs a reason.")
    if task.stage.kind == Stage.Kind.SIGNED:
        raise Refused(f"{task} is signed; what was done cannot be dropped.")
    _write_dropped(task, by=by, reason=reason)
    _tie_and_place(task.instrument, (), by=by)
    passages.settle(task.instrument, by=by)
    pulse.bump()


def _write_dropped(task: Task, *, by: Person, reason: str) -> None:
    """Out of the job, and out of the chains that a person tied: what waited for it waits for its needs."""
    earlier = list(task.needs.select_related("needs"))
    for after in list(task.needed_by.select_related("task")):
        for before in earlier:
            if after.reason and before.reason:
                continue  # Both follow from the state of the piano, which says anew what waits for what.
            TaskNeed.objects.get_or_create(task=after.task, needs=before.needs)
    task.dropped_at, task.dropped_by, task.dropped_reason = clock.now(), by, reason.strip()[:300]
    task.save(update_fields=["dropped_at", "dropped_by", "dropped_reason"])


def _listed(tasks: Sequence[Task]) -> str:
    return ", ".join(f"“{task.name}”" for task in tasks)
