"""Bringing it in: everything in one transaction, or nothing; and once, however often it is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import IntegrityError, transaction

from shopflow.common import clock
from shopflow.customers.models import Customer
from shopflow.instruments.models import Instrument
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import Tap
from shopflow.workshop.services import in_bulk
from shopflow.workshop.services.in_bulk import Work
from shopflow.workshop.services.taps import Answer, TapIn, once

from .drafts import InstrumentDraft
from .house import House
from .keeping import Kept
from .plan import Plan, plan_for
from .reading import Table, read_table

REASON = "brought in"
MOST_NAMED = 200
# Fact of the file and field of the model, where the names differ.
_FIELDS = {"year": "year_built"}
_ELSEWHERE = {"number", "arrived_on", "customer", "customer_email", "customer_phone", "route"}


class NotReady(Exception):
    """Something still stands in the way, or has come in the way meanwhile. Nothing was written."""

    def __init__(self, plan: Plan) -> None:
        super().__init__("not ready")
        self.plan = plan


def look(kept: Kept, answers: Mapping[str, str], *, by: Person) -> Plan:
    """What bringing this file in would do."""
    access.require(by, Deed.BRING_IN)
    return plan_for(read_table(kept.data), answers, House.as_it_is())


def bring_in(kept: Kept, answers: Mapping[str, str], *, by: Person) -> Answer:
    """Write what the file holds, once for its key. The same key again gives the same answer again."""
    access.require(by, Deed.BRING_IN)
    table = read_table(kept.data)
    try:
        return once(
            TapIn.of(key=kept.key, by=by),
            body={"deed": "bring in", "by": by.pk, "file": kept.key},
            deed=lambda: _write(table, answers, by=by, key=kept.key),
        )
    except NotReady:
        # Its own first copy may have been the one that came in the way.
        said = brought(kept.key, by=by)
        if said is None:
            raise
        return Answer(200, said, replayed=True)
    except IntegrityError as taken:
        # Somebody took in one of these numbers between our look and our writing.
        raise NotReady(_now(table, answers)) from taken


def brought(key: str, *, by: Person) -> dict[str, Any] | None:
    """What was brought in under this key, if it was, and by this person."""
    row = Tap.objects.filter(client=f"person:{by.pk}", key=key, answer__has_key="brought").first()
    return row.answer if row else None


def _now(table: Table, answers: Mapping[str, str]) -> Plan:
    return plan_for(table, answers, House.as_it_is())


@transaction.atomic
def _write(table: Table, answers: Mapping[str, str], *, by: Person, key: str) -> dict[str, Any]:
    plan = _now(table, answers)
    if not plan.is_ready:
        raise NotReady(plan)
    customers = Customer.objects.bulk_create(plan.owners.fresh, batch_size=in_bulk.BATCH)
    today = clock.today()
    fresh = [(_instrument(draft, plan), draft.arrived_on or today) for draft in plan.coming]
    instruments = in_bulk.take_in_many(fresh, by=by)
    works = [
        _work(instrument, draft, place)
        for instrument, draft in zip(instruments, plan.coming, strict=True)
        for place in range(len(draft.tasks))
    ]
    past_order = in_bulk.lay_out_many(works, by=by, key=key, reason=REASON)
    return {
        "brought": len(instruments),
        "tasks": len(works),
        "customers": len(customers),
        "left_out": len(plan.left_out),
        "past_order": past_order,
        "numbers": [draft.number for draft in plan.coming[:MOST_NAMED]],
    }


def _instrument(draft: InstrumentDraft, plan: Plan) -> Instrument:
    facts = {_FIELDS.get(name, name): value for name, value in draft.facts.items() if name not in _ELSEWHERE}
    customer = plan.owners.by_owner[draft.owner] if draft.owner else None
    return Instrument(number=draft.number, customer=customer, route=draft.route, **facts)


def _work(instrument: Instrument, draft: InstrumentDraft, place: int) -> Work:
    task = draft.tasks[place]
    return Work(
        instrument=instrument,
        department=task.department,
        path=task.path,
        stands_in=task.stage,
        name=task.name,
        operation=task.operation,
        hours_likely=task.hours,
        note=task.note,
        why=task.why,
    )
