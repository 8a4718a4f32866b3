"""What would help most? Try what is to hand, and rank it by what it would do."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from shopflow.common import clock, jobs
from shopflow.common.models import Job
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.planning.measures import HoldBack, LetGoOn, Measure, to_data
from shopflow.planning.said import Names
from shopflow.planning.selectors.candidates import candidates
from shopflow.planning.selectors.plans import published
from shopflow.planning.trying import Outcome, Paper

KIND = "balance"
LOOKED_AT_TWICE = 15
# So that one person's best week does not crowd out everybody else.
OF_ONE_SORT = 3
# A second look takes about as long as so many quick ones.
CAREFUL_STEPS = 3

Progress = Callable[..., None]
Row = tuple[float, Measure, Outcome]


def ask(*, by: Person) -> Job:
    """Have the measures tried; while they are, everybody who asks gets the same job."""
    access.require(by, Deed.PLAN)
    return jobs.enqueue(KIND, by=by, unique="shop")


def stop(*, by: Person) -> None:
    """What was tried so far is ranked and kept."""
    access.require(by, Deed.PLAN)
    job = Job.objects.open().filter(kind=KIND).first()
    if job is not None:
        jobs.ask_to_stop(job.pk)


def find_what_helps(*, seed: int, progress: Progress, stopped: Callable[[], bool]) -> dict[str, Any]:
    """Try each measure quickly, then the best of each sort carefully; plain data, best first."""
    began = time.monotonic()
    now = clock.now().replace(second=0, microsecond=0)
    paper = Paper.at(now, seed=seed)
    tried = candidates(paper.house)
    names = Names.for_measures(tried)
    steps = len(tried) + LOOKED_AT_TWICE * CAREFUL_STEPS
    progress(0, total=steps, note=f"Trying {len(tried)} measures, each quickly.")
    quick = _quickly(paper, tried, names, progress, stopped)
    chosen = best_of_each_sort(quick)
    before, rows = _carefully(paper, chosen, len(tried), names, progress, stopped)
    plan = published()
    return {
        "now": now.isoformat(),
        "last_move": paper.house.last_move,
        "plan": plan.pk if plan else None,
        "tried": len(quick),
        "of": len(tried),
        "seconds": round(time.monotonic() - began),
        "before": before.as_data(),
        "rows": rows,
    }


@dataclass(frozen=True, slots=True)
class Chosen:
    """A measure worth a second look, and others that come out exactly the same."""

    measure: Measure
    alike: list[Measure] = field(default_factory=list)


def best_of_each_sort(rows: Iterable[Row]) -> list[Chosen]:
    """The measures worth a second look: the best, but of one person or instrument not more than a few."""
    sorts: Counter[tuple[str, int]] = Counter()
    known: dict[tuple[str, Outcome], Chosen] = {}
    for gain, measure, after in sorted(rows, key=lambda row: -row[0]):
        key = measure.kind, after
        sort = measure.kind, measure.instrument if isinstance(measure, HoldBack | LetGoOn) else measure.person
        if gain <= 0:
            break
        if key in known:
            known[key].alike.append(measure)
        elif sorts[sort] < OF_ONE_SORT:
            sorts[sort] += 1
            known[key] = Chosen(measure)
    return list(known.values())[:LOOKED_AT_TWICE]


def _quickly(
    paper: Paper, tried: list[Measure], names: Names, progress: Progress, stopped: Callable[[], bool]
) -> list[Row]:
    rows: list[Row] = []
    before = paper.quickly()
    for place, measure in enumerate(tried):
        if stopped():
            break
        after = paper.quickly([measure])
        rows.append((after.better_than(before), measure, after))
        progress(place + 1, note=f"{place + 1} of {len(tried)} tried. {_best_so_far(rows, names)}")
    return rows


def _best_so_far(rows: list[Row], names: Names) -> str:
    gain, measure, _ = max(rows, key=lambda row: row[0])
    return f"Best so far: {names.say(measure)}." if gain > 0 else "None has helped so far."


def _carefully(
    paper: Paper,
    chosen: list[Chosen],
    done: int,
    names: Names,
    progress: Progress,
    stopped: Callable[[], bool],
) -> tuple[Outcome, list[dict[str, Any]]]:
    """Outcomes over many runs, best first; one that is stopped keeps what it has looked at."""
    before = paper.carefully()
    rows = []
    for place, one in enumerate(chosen):
        if stopped():
            break
        progress(done + place * CAREFUL_STEPS, note=f"A second look at the best: {names.say(one.measure)}.")
        rows.append(_row(one, before, paper.carefully([one.measure])))
    progress(done + LOOKED_AT_TWICE * CAREFUL_STEPS, note="")
    return before, sorted(rows, key=lambda row: -row["gain"])


def _row(one: Chosen, before: Outcome, after: Outcome) -> dict[str, Any]:
    return {
        "measure": to_data([one.measure])[0],
        "alike": to_data(one.alike),
        "after": after.as_data(),
        "gain": round(after.better_than(before), 2),
    }
