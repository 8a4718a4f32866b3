"""What is to be planned: jobs, the hands and scarce things they need, and the shop's hours.

Every time is in clock hours from the moment the plan begins. A job's ``hours`` are open hours of the shop;
without
``shop_hours`` the shop never closes and the two are the same.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, whole
from shopflow.compute.schedule.hours import ShopHours

MOST_HOURS = 100_000.0
MOST_HANDS = 10_000

JobId = Hashable
Step = tuple[float, int]


@dataclass(frozen=True, slots=True)
class Job:
    """A piece of work that one or more departments do in one go, once what it waits for is done.

    Parameters: ``hours`` of work; ``needs`` {resource: hands}; ``after`` {earlier job: hours of rest by the
    clock};
    ``release``, before which it cannot begin (a part's arrival, a snag's date); ``due`` and ``weight`` for
    lateness;
    ``group``, the instrument it belongs to; ``under_way`` when hands are already on it, in which case
    ``hours`` is what is left and it goes before everything that has not begun.
    ``holds`` names what nobody else may have meanwhile (the body of a piano, its keys): from its begin to its
    end, nights and pauses included, and for ``keeps_hold`` more hours by the clock, where its rest keeps them
    too (clamps, cure). If a follower waits for as long, that is the same rest. ``holding`` when it has them
    already, in a rest that lasts until its release.

    >>> Job("string", 12, needs={"stringing": 1}, after={"plate in": 24}, due=200).hours
    12.0
    """

    id: JobId
    hours: float
    needs: Mapping[str, int] = field(default_factory=dict)
    after: Mapping[JobId, float] = field(default_factory=dict)
    release: float = 0.0
    due: float | None = None
    weight: float = 1.0
    group: Hashable = None
    under_way: bool = False
    holds: frozenset[Hashable] = frozenset()
    keeps_hold: float = 0.0
    holding: bool = False

    def __post_init__(self) -> None:
        put = object.__setattr__
        put(self, "hours", number(f"hours of job {self.id!r}", self.hours, above=0, at_most=MOST_HOURS))
        put(self, "release", self._hours("release", self.release))
        put(self, "weight", self._hours("weight", self.weight))
        put(self, "keeps_hold", self._hours("keeps_hold", self.keeps_hold))
        put(self, "holds", self._names("holds", self.holds))
        if self.due is not None:
            put(self, "due", self._hours("due", self.due, at_least=-MOST_HOURS))
        put(self, "needs", {name: self._hands(name, hands) for name, hands in dict(self.needs).items()})
        put(
            self,
            "after",
            {job: self._hours(f"rest after {job!r}", lag) for job, lag in dict(self.after).items()},
        )

    def _hours(self, name: str, given: float, *, at_least: float = 0.0) -> float:
        return number(f"{name} of job {self.id!r}", given, at_least=at_least, at_most=MOST_HOURS)

    def _names(self, field_name: str, given: Iterable[Hashable]) -> frozenset[Hashable]:
        if isinstance(given, str):
            raise ComputeError(f"{field_name} of job {self.id!r}", given, "a set of names")
        return frozenset(given)

    def _hands(self, resource: str, given: int) -> int:
        return whole(f"hands of {resource!r} for job {self.id!r}", given, at_least=1, at_most=MOST_HANDS)


@dataclass(frozen=True, slots=True)
class Problem:
    """Jobs that share hands. Refuses, when it is made, anything that could not be planned.

    Parameters: ``resources`` {name: hands there at once}, or for hands that come and go
    {name: [(from hour, hands), ...]} with a first step at 0 and the last step lasting for ever.
    While fewer hands are there than a job needs, that job pauses, as it does when the shop is closed.
    Raises ``ComputeError`` naming the field and the job.

    >>> strip, colour = Job("strip", 6, {"finish": 1}), Job("colour", 3, {"finish": 1}, after={"strip": 2})
    >>> len(Problem([strip, colour], {"finish": 1}).jobs)
    2
    """

    jobs: Sequence[Job]
    resources: Mapping[str, int | Sequence[Step]]
    shop_hours: ShopHours | None = None

    def __post_init__(self) -> None:
        jobs = tuple(self.jobs)
        steps = {name: _steps(name, given) for name, given in dict(self.resources).items()}
        object.__setattr__(self, "jobs", jobs)
        object.__setattr__(self, "resources", steps)
        by_id = _by_id(jobs)
        for job in jobs:
            _refuse_strangers(job, by_id, steps)
        topological_order(jobs)

    def steps(self, resource: str) -> tuple[Step, ...]:
        """Hands of a resource over time, as (from hour, hands)."""
        return self.resources[resource]  # type: ignore[return-value]  # made so when the problem was made

    def hands(self, resource: str, clock: float = math.inf) -> int:
        """Hands of a resource that are there at a moment of the clock (in the long run, if none is given)."""
        return next(hands for begins, hands in reversed(self.steps(resource)) if begins <= clock)


def topological_order(jobs: Sequence[Job]) -> list[int]:
    """Places of the jobs, each after all it waits for; a circle of waiting is refused by the names in it."""
    place = {job.id: index for index, job in enumerate(jobs)}
    waits = [len(job.after) for job in jobs]
    followers: list[list[int]] = [[] for _ in jobs]
    for index, job in enumerate(jobs):
        for earlier in job.after:
            followers[place[earlier]].append(index)
    order = [index for index, count in enumerate(waits) if count == 0]
    for index in order:
        for later in followers[index]:
            waits[later] -= 1
            if waits[later] == 0:
                order.append(later)
    if len(order) < len(jobs):
        raise ComputeError("after", _circle(jobs, waits), "an order in which no job waits for itself")
    return order


def _circle(jobs: Sequence[Job], waits: Sequence[int]) -> str:
    """The jobs of one circle, in the order in which they wait for each other."""
    stuck = {job.id: job for job, count in zip(jobs, waits, strict=True) if count}
    here = next(iter(stuck))
    path: list[JobId] = []
    while here not in path:
        path.append(here)
        here = next(earlier for earlier in stuck[here].after if earlier in stuck)
    return " waits for ".join(str(job) for job in [*path[path.index(here) :], here])


def _by_id(jobs: Iterable[Job]) -> dict[JobId, Job]:
    found: dict[JobId, Job] = {}
    for job in jobs:
        if not isinstance(job, Job):
            raise ComputeError("jobs", job, "Job only")
        if job.id in found:
            raise ComputeError("id", job.id, "one job of each id")
        found[job.id] = job
    return found


def _refuse_strangers(job: Job, by_id: Mapping[JobId, Job], resources: Mapping[str, Sequence[Step]]) -> None:
    for name, hands in job.needs.items():
        if name not in resources:
            raise ComputeError(
                f"needs of job {job.id!r}", name, f"one of {', '.join(map(repr, resources)) or 'none'}"
            )
        if hands > (there := resources[name][-1][1]):
            raise ComputeError(
                f"needs of job {job.id!r}", f"{hands} of {name!r}", f"at most the {there} that are there"
            )
    if job.holding and job.after:
        raise ComputeError(f"holding of job {job.id!r}", job.holding, "False until all before it is done")
    for earlier in job.after:
        if earlier not in by_id:
            raise ComputeError(f"after of job {job.id!r}", earlier, "a job of this problem")
        if job.under_way and not by_id[earlier].under_way:
            raise ComputeError(
                f"under_way of job {job.id!r}", job.under_way, f"False until {earlier!r} is done"
            )


def _steps(name: str, given: int | Sequence[Step]) -> tuple[Step, ...]:
    """Hands of one resource as steps (from hour, hands), refused unless they begin at 0 and go forward."""
    field_name = f"hands of resource {name!r}"
    if isinstance(given, Sequence) and not isinstance(given, str):
        steps = tuple(
            (number(field_name, begins, at_least=0, at_most=MOST_HOURS), _there(field_name, hands))
            for begins, hands in given
        )
    else:
        steps = ((0.0, _there(field_name, given)),)
    rising = all(earlier[0] < later[0] for earlier, later in pairwise(steps))
    if not steps or steps[0][0] != 0 or not rising:
        raise ComputeError(field_name, given, "steps (from hour, hands) that begin at hour 0 and go forward")
    return steps


def _there(name: str, given: int) -> int:
    return whole(name, given, at_least=0, at_most=MOST_HANDS)
