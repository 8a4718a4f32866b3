"""Scopes of the demo that were weighed and kept: for money that reaches far, half way, and hardly at all."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.instruments.models import Instrument
from shopflow.offers.models import Offer
from shopflow.offers.selectors.scope import Asked, Weighing, Wishes, asked
from shopflow.offers.services.scopes import keep_scope
from shopflow.people.models import Person


@dataclass(frozen=True, slots=True)
class Purse:
    """How far up the staircase the money reaches (0 to 1), and what its owner says of it."""

    reach: float
    name: str


PURSES = (
    Purse(0.12, "What there is this year"),
    Purse(0.45, "Up to the insurance sum"),
    Purse(0.85, "Nearly everything"),
)


def keep_scopes(*, by: Person) -> None:
    """One for each of the first pianos that have something to weigh and no answered offer."""
    answered = Offer.objects.filter(state=Offer.State.APPROVED).values("instrument")
    pianos = Instrument.objects.in_the_house().filter(findings__state="open").exclude(pk__in=answered)
    waiting = iter(PURSES)
    purse = next(waiting, None)
    for piano in pianos.distinct().order_by("number"):
        weighing = Weighing.of(piano)
        if purse is None:
            return
        if len(weighing.mendable) >= 5:
            _keep(purse, asked(weighing, Wishes()), by)
            purse = next(waiting, None)


def _keep(purse: Purse, question: Asked, by: Person) -> None:
    outline = question.outline(200)
    budget, _ = outline[round((len(outline) - 1) * purse.reach)]
    instrument = question.weighing.instrument
    keep_scope(instrument=instrument, budget=budget, wishes=Wishes(), name=purse.name, by=by)
