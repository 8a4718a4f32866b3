"""Planning in the background: each night, when asked, and never inside a tap."""

from __future__ import annotations

import time as stopwatch
from datetime import datetime, time, timedelta
from typing import Any

from celery.signals import worker_ready

from shopflow.catalogue.selectors import the_shop
from shopflow.celery import app
from shopflow.common import clock, jobs
from shopflow.compute import schedule
from shopflow.compute.errors import ComputeError
from shopflow.workshop.models import Task

from . import asked
from .measures import from_data
from .models import Plan
from .problem import Unplannable
from .selectors.plans import published
from .services import balance, plans, weeks

# The shop is planned anew while nobody works in it; the shop's own clock counts.
NIGHT = time(3)
TRIES = 3


@jobs.kind("plan")
def make_plan(
    run: jobs.Run,
    *,
    by_name: str = "the nightly clock",
    measures: list[dict[str, Any]] | None = None,
    seconds: float = plans.SEARCH_SECONDS,
    seed: int = 0,
    publish: bool = False,
    instead_of: int | None = None,
) -> dict[str, Any]:
    """Plan the house; the last good plan, and the draft this one replaces, stand until it is done."""
    _get_ready(run, total=round(seconds) + 3)
    run.progress(0, note="Reading the house.")
    wishes = {"by_name": by_name, "measures": from_data(measures or []), "seconds": seconds, "seed": seed}
    try:
        if publish and published() is None:
            # Better a first plan in a moment than none until the search is over.
            plans.make_plan(by_name=by_name, seconds=0.0, seed=seed, publish=True)
        plan = _made(publish=publish, on_progress=_Telling(run, seconds), **wishes)
    except (Unplannable, ComputeError) as why:
        raise jobs.Cannot(f"No plan: {why} The last plan stays.") from why
    if instead_of is not None:
        Plan.objects.filter(pk=instead_of, state=Plan.State.DRAFT).update(state=Plan.State.DROPPED)
    if publish:
        plans.forget_old_plans()
    return {"plan": plan.pk}


def _made(**wishes: Any) -> Plan:
    """The plan; once more from the start when another one was published while it was computed."""
    for _ in range(TRIES):
        try:
            return plans.make_plan(**wishes)
        except plans.PlannedMeanwhile:
            continue
    raise jobs.Cannot("Other plans were published again and again meanwhile. The last of them stays.")


@jobs.kind(balance.KIND)
def find_what_helps(run: jobs.Run, *, seed: int = 0) -> dict[str, Any]:
    """Try each measure that is to hand, and rank them by what they would do."""
    _get_ready(run, total=1)
    try:
        return balance.find_what_helps(seed=seed, progress=run.progress, stopped=run.stopped)
    except (Unplannable, ComputeError) as why:
        raise jobs.Cannot(f"Nothing could be tried: {why}") from why


@jobs.kind("foresee offer")
def foresee_offer(run: jobs.Run, *, offer_id: int) -> dict[str, Any]:
    """Say of each option of an offer how many weeks it would take."""
    _get_ready(run, total=2)
    run.progress(1, note="Laying it out on paper.")
    return weeks.tell_offer(offer_id)


@jobs.kind("foresee change")
def foresee_change(run: jobs.Run, *, change: int) -> dict[str, Any]:
    """Say of each choice of a change order by how many days the instrument would be later."""
    _get_ready(run, total=2)
    run.progress(1, note="Laying it out on paper.")
    return weeks.tell_change(change)


def _get_ready(run: jobs.Run, *, total: int) -> None:
    # Compiled once a machine and kept; not as the worker starts, which has only seconds to come up.
    run.progress(0, total=total, note="Getting ready.")
    schedule.warm_up()


class _Telling:
    """Says how far the search is: by the clock, with the best plan so far beside the first one."""

    def __init__(self, run: jobs.Run, seconds: float) -> None:
        self.run, self.seconds = run, seconds
        self.first: float | None = None
        self.began = stopwatch.monotonic()

    def __call__(self, words: str, best: float, tries: int) -> bool:
        if self.first is None:
            self.first, self.began = best, stopwatch.monotonic()
        spent = min(self.seconds, stopwatch.monotonic() - self.began)
        self.run.progress(1 + round(spent), note=self._said(words, best, tries))
        return not self.run.stopped()

    def _said(self, words: str, best: float, tries: int) -> str:
        days = f"{best / 24:,.0f} days late in all"
        if not tries:
            return f"There is {words}: {days}."
        return f"Best so far: {days} (the first plan: {(self.first or 0) / 24:,.0f}); {tries:,} tried."


@app.task
def look() -> None:
    """Has the shop been planned since three in the night, or does it have no plan at all? Then plan it."""
    zone = the_shop().zone
    here = clock.now().astimezone(zone)
    night = datetime.combine(here.date(), NIGHT, tzinfo=zone)
    if night > here:
        night -= timedelta(days=1)
    if asked.due(night=night) and Task.objects.open().exists():
        jobs.enqueue(asked.KIND, by=None, unique=asked.THE_SHOP, publish=True)


@worker_ready.connect
def look_at_once(**_: Any) -> None:
    """The shop was perhaps off in the night, or has only just been filled."""
    look()
