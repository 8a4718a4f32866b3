"""Keeping a scope that was weighed, to go back to and to make offers of."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from shopflow.common import clock
from shopflow.instruments.models import Instrument
from shopflow.offers.models import Scope
from shopflow.offers.selectors.scope import Weighing, Wishes, answer, asked
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person


@transaction.atomic
def keep_scope(
    *, instrument: Instrument, budget: Decimal, wishes: Wishes, name: str = "", by: Person
) -> Scope:
    """What is best for this money now, weighed anew, is kept; the same kept twice in a row is one."""
    access.require(by, Deed.OFFERS)
    Instrument.objects.select_for_update().get(pk=instrument.pk)
    found = answer(asked(Weighing.of(instrument), wishes), wishes, budget)
    facts = {
        "name": name,
        "budget": budget,
        "wishes": {"insist": list(wishes.insist), "refuse": list(wishes.refuse)},
        "chosen": found.chosen,
        "work": found.work,
        "is_proven": found.is_proven,
    }
    last = Scope.objects.filter(instrument=instrument).first()
    if last is not None and last.made_by_id == by.pk and all(getattr(last, k) == v for k, v in facts.items()):
        return last
    return Scope.objects.create(instrument=instrument, made_by=by, made_at=clock.now(), **facts)
