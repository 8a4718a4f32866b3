"""What would help most? Try what is to hand, and rank it by what it would do."""

from __future__ import annotations

import time as stopwatch
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
    began = stopwatch.monotonic()
    now = clock.now().replace(second=0, microsecond=0)
    paper = Paper.at(now, seed=seed)
    tried = candidates(paper.house)
    trying = _Trying(paper, tried, Names.for_measures(tried), progress, stopped)
    before, rows = trying.all_of_it()
    plan = published()
    return {
        "now": now.isoformat(),
        "last_move": paper.house.last_move,
        "plan": plan.pk if plan else None,
        "tried": trying.done,
        "of": len(tried),
        "seconds": round(stopwatch.monotonic() - began),
        "before": before.as_data(),
        "rows": sorted(rows, key=lambda row: -row["gain"]),
    }


@dataclass(frozen=True, slots=True)
class Chosen:
    """A measure worth a second look, and others that come out exactly the same."""

    measure: Measure
    after: Outcome
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
            known[key] = Chosen(measure, after)
    return list(known.values())[:LOOKED_AT_TWICE]


@dataclass(slots=True)
class _Trying:
    """One round of trying, which tells how far it is and can be stopped after each measure."""

    paper: Paper
    tried: list[Measure]
    names: Names
    progress: Progress
    stopped: Callable[[], bool]
    done: int = 0

    def all_of_it(self) -> tuple[Outcome, list[dict[str, Any]]]:
        """Figures without any measure, and a row for each that helps."""
        steps = len(self.tried) + LOOKED_AT_TWICE * CAREFUL_STEPS
        self.progress(0, total=steps, note=f"Trying {len(self.tried)} measures, each quickly.")
        before = self.paper.quickly()
        chosen = best_of_each_sort(self._quickly(before))
        if self.stopped():
            # A first look at what was tried is better than no answer.
            return before, [_row(one, before, one.after) for one in chosen]
        return self._carefully(chosen)

    def _quickly(self, before: Outcome) -> list[Row]:
        rows: list[Row] = []
        for measure in self.tried:
            if self.stopped():
                break
            after = self.paper.quickly([measure])
            rows.append((after.better_than(before), measure, after))
            self.done += 1
            told = f"{self.done} of {len(self.tried)} tried. {self._best_of(rows)}"
            self.progress(self.done, note=told)
        return rows

    def _best_of(self, rows: list[Row]) -> str:
        gain, measure, _ = max(rows, key=lambda row: row[0])
        return f"Best so far: {self.names.say(measure)}." if gain > 0 else "None has helped so far."

    def _carefully(self, chosen: list[Chosen]) -> tuple[Outcome, list[dict[str, Any]]]:
        """Outcomes over many runs; one that is stopped keeps what it has looked at."""
        before = self.paper.carefully()
        rows = []
        for place, one in enumerate(chosen):
            if self.stopped():
                break
            told = f"A second look at the best: {self.names.say(one.measure)}."
            self.progress(self.done + place * CAREFUL_STEPS, note=told)
            rows.append(_row(one, before, self.paper.carefully([one.measure])))
        self.progress(self.done + LOOKED_AT_TWICE * CAREFUL_STEPS, note="")
        return before, rows


def _row(one: Chosen, before: Outcome, after: Outcome) -> dict[str, Any]:
    return {
        "measure": to_data([one.measure])[0],
        "alike": to_data(one.alike),
        "after": after.as_data(),
        "gain": round(after.better_than(before), 2),
    }
