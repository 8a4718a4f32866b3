"""How often did instruments really finish by the days that a forecast at an earlier moment would have told?

Run it on a data folder with a history, for example the demo's:
    SHOPFLOW_DATA=var python -m tests.benchmarks.forecast_cover [weeks between moments]

The house is set back to each moment from the ledger: the stage where each task stood, the snags that were
open, the hours and waits that were known by then. Each instrument's true finish is then looked up among the
runs of the forecast of that moment. Of a forecast that is true, a tenth finish by P10, half by P50, eight of
ten by P80. Only moments long enough ago are asked, so that (nearly) every instrument's end is known; one that
is unfinished to this day counts as later than all runs.

The crew is taken as it is today, and what came in after a moment is not known to it, as it was not then.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from datetime import datetime, time, timedelta

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shopflow.settings")
django.setup()

import numpy as np  # noqa: E402

from shopflow.catalogue.models import Stage  # noqa: E402
from shopflow.catalogue.selectors import stages_by_id, the_shop  # noqa: E402
from shopflow.common import clock  # noqa: E402
from shopflow.instruments.models import Instrument  # noqa: E402
from shopflow.planning.problem import ShopProblem, house_of, in_order  # noqa: E402
from shopflow.planning.running import run_forecast  # noqa: E402
from shopflow.planning.work import CLOSES  # noqa: E402
from shopflow.workshop.models import Move, Task  # noqa: E402

TOLD = (0.1, 0.5, 0.8, 0.9)
FIRST_WEEKS, LAST_WEEKS = (
    30,
    26,
)  # a history to learn from before the first moment; time to finish after the last


def main(apart: int) -> None:
    """Print the share of true finishes by each quantile, for near and far ones."""
    rows: list[tuple[float, float, float]] = []
    for moment in _moments(apart):
        rows += list(_places(moment))
    places, weeks, widths = np.array(rows).T
    print(f"{len(rows)} finishes; half of them within {np.median(weeks):.1f} weeks")
    print(f"median width P10 to P90: {np.median(widths):.1f} weeks")
    for name, chosen in (("all", weeks >= 0), ("within 8 weeks", weeks < 8), ("later", weeks >= 8)):
        shares = "  ".join(f"P{told * 100:.0f}: {np.mean(places[chosen] <= told):.2f}" for told in TOLD)
        print(f"{name:>15} ({chosen.sum()}): {shares}")


def _moments(apart: int) -> Iterator[datetime]:
    zone = the_shop().zone
    first = Move.objects.order_by("pk").values_list("recorded_at", flat=True)[0] + timedelta(
        weeks=FIRST_WEEKS
    )
    last = clock.now() - timedelta(weeks=LAST_WEEKS)
    while first < last:
        day = first.astimezone(zone)
        yield datetime.combine(day - timedelta(days=day.weekday()), time(7), tzinfo=zone)
        first += timedelta(weeks=apart)


def _places(moment: datetime) -> Iterator[tuple[float, float, float]]:
    """Of each instrument open at a moment: where its true finish lies among the runs, and after how long."""
    with clock.at(moment):
        asked = _as_of(moment)
        runs = run_forecast(asked, seed=1)
    finished = dict(Instrument.objects.values_list("pk", "finished_on"))
    for instrument, samples in runs.samples.items():
        on = finished[instrument]
        end = datetime.combine(on, CLOSES, tzinfo=moment.tzinfo) if on else clock.now()
        truth = (end - moment).total_seconds() / 3600
        width = (runs.groups[instrument][0.9] - runs.groups[instrument][0.1]) / 168
        yield (float(np.mean(samples <= truth)) if on else 1.0), truth / 168, width


def _as_of(moment: datetime) -> ShopProblem:
    """The house set back to a moment."""
    stages = stages_by_id()
    stood = {
        move.task_id: move
        for move in Move.objects.filter(recorded_at__lte=moment).order_by("recorded_at", "pk")
    }
    known = Task.objects.filter(created_at__lte=moment, at_the_owners=False).exclude(dropped_at__lte=moment)
    tasks = []
    for task in in_order(known.exclude(instrument__left_on__lt=moment.date())):
        move = stood.get(task.pk)
        task.stage_id = move.target_id if move else task.path[0]
        task.stage_since = move.recorded_at if move else task.created_at
        if stages[task.stage_id].kind != Stage.Kind.SIGNED and task.stage_id in task.path:
            tasks.append(task)
    house = house_of(tasks, now=moment)
    house.held = {}
    return house.problem()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 4)
