"""What a handover report says of the work: done, holding, mended by the way, still open, by whom."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from shopflow.catalogue.models import Department, Stage
from shopflow.common import clock
from shopflow.compute.proof import Gap
from shopflow.instruments.models import Finding, Instrument
from shopflow.offers.aftercare import claims_told, visit_due
from shopflow.offers.frozen import day_in_words
from shopflow.workshop.models import Move, Task

from .fates import Fate, FoundSo
from .proved import Proved

NO_DAY = "we agree the day with you"


def done_by_department(shown: Proved, fate: Fate) -> list[dict[str, Any]]:
    """What was signed in this stay, with the findings that each piece of work really mended."""
    mends: dict[int, list[str]] = defaultdict(list)
    for one in fate.told:
        for pk in one.tasks:
            mends[pk].append(one.finding.name)
    together: dict[Department, list[Task]] = defaultdict(list)
    for task in shown.stay.signed_tasks:
        if not task.at_the_owners:
            together[task.department].append(task)
    return [
        {
            "department": department.name,
            "works": [
                {
                    "name": task.name,
                    "what": task.operation.what if task.operation else "",
                    "on": on_day(task.stage_since),
                    "mends": list(dict.fromkeys(mends[task.pk])),
                }
                for task in sorted(together[department], key=lambda task: (task.position, task.pk))
            ],
        }
        for department in sorted(together, key=lambda each: (each.position, each.code))
    ]


def what_holds(shown: Proved) -> list[dict[str, str]]:
    """What may be said of the piano as it goes home: raised in this stay, and not lowered since."""
    return [
        {
            "words": words,
            "by": shown.tasks[claim.place].name,
            "on": on_day(shown.signed_on(claim)),
        }
        for words, claim in claims_told(shown.proof)
    ]


def by_the_way(shown: Proved, fate: Fate) -> list[dict[str, Any]]:
    """What was to be left, and came with other work."""
    return [
        {"number": one.finding.number, "name": one.finding.name, "by": _names(one.tasks, shown)}
        for one in fate.by_the_way
    ]


def still_open(shown: Proved, fate: Fate) -> list[dict[str, Any]]:
    """What is neither mended nor left: a report that says so is not handed over."""
    return [
        {"number": one.finding.number, "name": one.finding.name, "why": why_open(one, shown)}
        for one in fate.still_to_mend
    ]


def why_open(one: FoundSo, shown: Proved) -> str:
    """What is missing until it may be called mended."""
    if one.finding.state == Finding.State.MENDED and one.state == Finding.State.OPEN:
        return "it is called mended, but no signed work of this stay mends it"
    if one.state == Finding.State.OPEN:
        return "nobody has decided about it yet"
    known = shown.proof.knowledge
    told = [_gap(gap, {code: known.name(code) for code in known.codes}) for gap in one.gaps if gap.code]
    return "; ".join(told) or "its work is not all signed"


def _gap(gap: Gap, names: dict[str, str]) -> str:
    name = names.get(gap.code, gap.code)
    if not gap.is_signed:
        return f"“{name}” is not signed"
    if gap.undone_by:
        return f"“{name}” was undone by “{names.get(gap.undone_by, gap.undone_by)}”"
    return f"“{name}” was signed before the piano was ready for it"


def visits_planned(piano: Instrument, shown: Proved) -> list[dict[str, str]]:
    """What is still to be done at the owner's, with its day where one is planned."""
    went_home = piano.left_on or piano.handed_on or clock.today()
    return [
        {"name": task.name, "on": visit_words(task, went_home=went_home)}
        for task in shown.stay.open_tasks
        if task.at_the_owners
    ]


def visit_words(task: Task, *, went_home: date | None) -> str:
    """The day of a visit as planned, else about when it is due after the piano went home."""
    if task.planned_for is not None:
        return on_day(task.planned_for)
    due = visit_due(task.operation.code if task.operation else "", went_home)
    return f"about {due:%B %Y}; {NO_DAY}" if due else NO_DAY


def who_worked(piano: Instrument, shown: Proved) -> list[list[str]]:
    """Who had hands on it in this stay, each with the departments, in the order of the work."""
    moves = Move.objects.filter(
        task__instrument=piano, task__dropped_at=None, origin__kind=Stage.Kind.BENCHED, undoes=None
    )
    if shown.since is not None:
        moves = moves.filter(recorded_at__gte=shown.since)
    told: dict[str, dict[str, None]] = defaultdict(dict)
    rows = moves.filter(undone_by=None).order_by("pk").values_list("by__name", "task__department__name")
    for name, department in rows:
        told[name][department] = None
    return [[name, ", ".join(departments)] for name, departments in told.items()]


def on_day(moment: datetime | None) -> str:
    return day_in_words(timezone.localdate(moment)) if moment else ""


def _names(tasks: tuple[int, ...], shown: Proved) -> list[str]:
    return [task.name for task in shown.tasks if task.pk in tasks]
