"""Trying measures on paper: a draft beside today's plan."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from datetime import timedelta

from shopflow.common import clock, jobs
from shopflow.common.models import Job
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.planning.asked import KIND
from shopflow.planning.measures import Measure, from_data, to_data
from shopflow.planning.models import Plan

from . import taking_effect

MOST_MEASURES = 20
BEING_MADE = "The draft is being made. Today’s plan stands until you publish another."
SAID_FOR = timedelta(minutes=10)


def try_on_paper(*, measures: Sequence[Measure], by: Person, instead_of: Plan | None = None) -> Job:
    """Have a draft made with these measures; the draft it is made instead of stands until then."""
    access.require(by, Deed.PLAN)
    if not 1 <= len(measures) <= MOST_MEASURES:
        raise Refused(f"Got {len(measures)} measures; allowed is 1 to {MOST_MEASURES} in one draft.")
    taking_effect.check(measures, by=by)
    data = to_data(measures)
    return jobs.enqueue(
        KIND,
        by=by,
        unique=f"draft:{_fingerprint(data)}",
        by_name=by.name,
        measures=data,
        instead_of=instead_of.pk if instead_of else None,
    )


def add_to(draft: Plan, *, measure: Measure, by: Person) -> Job:
    """The same draft with one measure more."""
    known = from_data(draft.measures)
    if measure in known:
        raise Refused("That is in this draft already.")
    return try_on_paper(measures=[*known, measure], by=by, instead_of=draft)


def again(draft: Plan, *, by: Person) -> Job:
    """The same measures beside the plan that stands now."""
    return try_on_paper(measures=from_data(draft.measures), by=by, instead_of=draft)


def without(draft: Plan, *, place: int, by: Person) -> Job:
    """The same draft without one of its measures."""
    measures = from_data(draft.measures)
    return try_on_paper(measures=measures[:place] + measures[place + 1 :], by=by, instead_of=draft)


def under_way() -> list[Job]:
    """Drafts that are being made, and those that lately could not be."""
    rows = Job.objects.filter(kind=KIND, unique_key__startswith=f"{KIND}:draft:")
    since = clock.now() - SAID_FOR
    failed = rows.filter(state=Job.State.FAILED, finished_at__gte=since)
    return [*rows.open().order_by("pk"), *failed.order_by("pk")]


def _fingerprint(data: object) -> str:
    return hashlib.sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()[:20]
