"""Try a measure on paper: what would come of it, in the same runs of the shop as without it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from shopflow.compute import forecast

from .measures import Measure
from .problem import House, read_house
from .running import RUNS, run_forecast
from .selectors.outlook import YearSoFar, year_so_far

QUICK_RUNS = 100


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a plan would bring, as the balance compares it."""

    at_risk: int
    expected_late: float
    odds: float | None = None
    mean: float | None = None

    def better_than(self, other: Outcome) -> float:
        """Promises kept more, and instruments finished more in the year; each counts one."""
        more = (self.mean or 0.0) - (other.mean or 0.0)
        return other.expected_late - self.expected_late + more

    def as_data(self) -> dict[str, Any]:
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Paper:
    """The house and the year as they stand at one moment, for any number of tries.

    Every try keeps to the due-date rule and throws the same dice, so that two outcomes differ by their
    measures and not by luck. (With a search for a better plan in each try, the luck of the search was larger
    than what a week's loan does: measured, up to one promise and a half either way.)
    """

    house: House
    year: YearSoFar | None
    seed: int

    @classmethod
    def at(cls, now: datetime, *, seed: int = 0) -> Paper:
        return cls(read_house(now), year_so_far(now), seed)

    def quickly(self, measures: Sequence[Measure] = ()) -> Outcome:
        return self._run(measures, QUICK_RUNS)

    def carefully(self, measures: Sequence[Measure] = ()) -> Outcome:
        return self._run(measures, RUNS)

    def _run(self, measures: Sequence[Measure], runs: int) -> Outcome:
        asked = self.house.problem(measures)
        return self._outcome(run_forecast(asked, runs=runs, seed=self.seed))

    def _outcome(self, runs: forecast.Forecast) -> Outcome:
        kept = runs.groups_on_time.values()
        year = self.year.with_runs(runs) if self.year else {}
        return Outcome(
            at_risk=sum(share < 0.5 for share in kept),
            expected_late=round(sum(1 - share for share in kept), 2),
            odds=year.get("odds"),
            mean=year.get("mean"),
        )
