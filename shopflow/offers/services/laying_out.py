"""What a yes brings about: tasks for what was sold, findings in work, and the rest left as found."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.utils import timezone

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Operation, Stage
from shopflow.common import clock
from shopflow.compute import network
from shopflow.instruments.models import Finding, Instrument, Survey
from shopflow.offers.models import Approval, LaidOut, LeftAsFound, Option, OptionFinding, Treatment
from shopflow.offers.selectors.remedies import work_of
from shopflow.people.models import Person
from shopflow.workshop.models import Task
from shopflow.workshop.services import layout

SURVEY = "survey"
# What is mended or proved not so meanwhile is decided already.
_DECIDED = {Finding.State.MENDED, Finding.State.WITHDRAWN}


def lay_out_option(approval: Approval, *, hand: Person) -> None:
    """Lay out the option's work, doubling no task that is there; tie it to findings; note what is left."""
    option = approval.option
    instrument = approval.offer.instrument
    works = option.works.select_related("operation")
    operations = in_working_order(instrument, [work.operation for work in works])
    tasks = _present(instrument)
    behind = _behind_us(instrument)
    missing = [
        one
        for one in operations
        if one.pk not in tasks and one.code not in behind and one.hours_for(instrument.kind)
    ]
    # Work under way may ask for more than was sold: what comes in with it belongs to the option as well.
    sold = {one.pk for one in operations}
    for task in _add(instrument, missing, hand=hand):
        tasks[task.operation_id or 0] = task
        sold.add(task.operation_id or 0)
    rows = list(
        option.findings.select_related("finding__instrument", "remedy").prefetch_related(
            "remedy__operations", "remedy__besides_grand", "remedy__besides_upright"
        )
    )
    by_hand = [work.operation_id for work in works if work.by_hand]
    _tie(option, rows, {pk: task for pk, task in tasks.items() if pk in sold}, by_hand)
    for row in rows:
        if row.finding.state not in _DECIDED:
            _settle(row, approval)


def in_working_order(instrument: Instrument, operations: Sequence[Operation]) -> list[Operation]:
    """As the instrument's route names them, else as the catalogue does; none before what it waits for."""
    on_route = dict[int, int]()
    if instrument.route is not None:
        on_route = dict(instrument.route.steps.values_list("operation_id", "position"))
    rows = Operation.objects.filter(pk__in=[one.pk for one in operations]).select_related("department")
    known = {one.pk: one for one in rows}
    usual = sorted(
        known.values(), key=lambda one: (on_route.get(one.pk, 10_000), one.department.position, one.pk)
    )
    of_the_shop = knowledge(instrument.kind)
    by_code = {one.code: one.pk for one in usual}
    ties = of_the_shop.order([code for code in by_code if code in of_the_shop.codes])
    pairs = [(by_code[tie.before], by_code[tie.after]) for tie in ties]
    return [known[pk] for pk in network.order(pairs, jobs=[one.pk for one in usual])]


def _present(instrument: Instrument) -> dict[int, Task]:
    """The tasks of this stay by operation: those still open before those that are signed."""
    tasks = Task.objects.in_the_job().filter(instrument=instrument, operation__isnull=False)
    kept: dict[int, Task] = {}
    for task in tasks.select_related("stage").order_by("position"):
        if task.stage.kind == Stage.Kind.SIGNED and not _of_this_stay(task, instrument):
            continue
        there = kept.get(task.operation_id or 0)
        if there is None or there.stage.kind == Stage.Kind.SIGNED:
            kept[task.operation_id or 0] = task
    return kept


def _of_this_stay(task: Task, instrument: Instrument) -> bool:
    """What was signed before the piano last came into the house belongs to an older job."""
    return _of_stay(task.stage_since, instrument)


def _behind_us(instrument: Instrument) -> set[str]:
    """What is sold and done before the yes: the look on which the offer rests."""
    finished = Survey.objects.filter(instrument=instrument).exclude(finished_at=None)
    return {SURVEY} if any(_of_stay(one.finished_at, instrument) for one in finished) else set()


def _of_stay(moment: datetime | None, instrument: Instrument) -> bool:
    """Whether it happened since the piano last came into the house, or while it has not come yet."""
    arrived = instrument.arrived_on
    return moment is not None and (arrived is None or timezone.localdate(moment) >= arrived)


def _add(instrument: Instrument, operations: Sequence[Operation], *, hand: Person) -> list[Task]:
    if not operations:
        return []
    if Task.objects.in_the_job().filter(instrument=instrument).exists():
        return layout.add_work(instrument=instrument, operations=operations, by=hand).tasks
    return layout.lay_out(instrument=instrument, operations=operations, by=hand)


def _tie(
    option: Option, rows: Sequence[OptionFinding], tasks: dict[int, Task], by_hand: Sequence[int]
) -> None:
    """Each task to the findings that it mends; what opens and closes the piano to the option alone."""
    ties, tied = list[LaidOut](), set[int]()
    for row in rows:
        if row.treatment == Treatment.LEAVE:
            continue
        kind = row.finding.instrument.kind
        for pk in [one.pk for one in work_of(row.remedy, kind)] if row.remedy else by_hand:
            if pk in tasks:
                ties.append(LaidOut(task=tasks[pk], finding=row.finding, option=option))
                tied.add(pk)
    ties += [LaidOut(task=task, option=option) for pk, task in tasks.items() if pk not in tied]
    LaidOut.objects.bulk_create(ties)


def _settle(row: OptionFinding, approval: Approval) -> None:
    """Put the finding in work, or write down that it was left: why, by whose wish, and what to expect."""
    finding = row.finding
    LeftAsFound.objects.filter(finding=finding, ended_at=None).update(
        ended_at=clock.now(), ended_why=f"decided anew with {approval.offer}"[:200]
    )
    finding.state = Finding.State.IN_WORK
    if row.treatment == Treatment.LEAVE:
        finding.state = Finding.State.LEFT
        LeftAsFound.objects.create(
            finding=finding,
            reason=row.reason,
            decided_by=approval.typed_name,
            decided_at=approval.at,
            consequence=row.consequence,
            can_wait=row.can_wait,
            price_now=row.price_now,
            price_later=row.price_later if row.can_wait else None,
            approval=approval,
            entered_by=approval.entered_by,
        )
    finding.save(update_fields=["state"])
