"""Tell offers and change orders how long their work would take. Both may be told twice without harm."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from shopflow.catalogue.models import Operation
from shopflow.common import clock
from shopflow.instruments.models import Instrument
from shopflow.offers.models import ChangeChoice, ChangeOrder, Offer, Option
from shopflow.workshop.models import Task

from .foresee import Foreseen, NewWork, foresee

# What the customer reads where the plan can say nothing; why it cannot is for the office.
NOT_YET = "We tell you the weeks as soon as they are planned."
ROUNDS = 3
# A difference of a few days shows only in many runs.
CAREFUL_RUNS = 2000


def tell_offer(offer_id: int) -> dict[str, str]:
    """Fill in the weeks of every option of a draft; once more when it was changed meanwhile."""
    said: dict[str, str] = {}
    for _ in range(ROUNDS):
        offer = Offer.objects.select_related("instrument").get(pk=offer_id)
        if offer.state != Offer.State.DRAFT:
            return said
        options = list(offer.options.prefetch_related("works__operation"))
        told = foresee([_work_of(offer, option) for option in options], now=clock.now())
        said = {option.name: one.words for option, one in zip(options, told, strict=True)}
        if _tell_options(offer, dict(zip(options, told, strict=True))):
            return said
    return said


def tell_change(change_id: int) -> dict[str, str]:
    """Fill in by how many days the instrument is finished later, of every choice of which nobody said it."""
    change = ChangeOrder.objects.select_related("instrument").get(pk=change_id)
    choices = change.choices.filter(remedy__isnull=False, days_high=None).select_related("remedy")
    open_choices = list(choices.prefetch_related("remedy__operations"))
    if change.state != ChangeOrder.State.DRAFT or not open_choices:
        return {}
    ways = [[], *(list(choice.remedy.operations.all()) for choice in open_choices if choice.remedy)]
    works = [_beside(change.instrument, operations) for operations in ways]
    without, *told = foresee(works, now=clock.now(), runs=CAREFUL_RUNS)
    for choice, later in zip(open_choices, told, strict=True):
        _tell_choice(choice, without, later)
    return {choice.kind: one.words for choice, one in zip(open_choices, told, strict=True)}


@transaction.atomic
def _tell_options(asked: Offer, told: dict[Option, Foreseen]) -> bool:
    """Write the weeks, unless the draft was changed or sent since it was asked about."""
    offer = Offer.objects.select_for_update().get(pk=asked.pk)
    if offer.state != Offer.State.DRAFT:
        return True
    if offer.edition != asked.edition:
        return False
    for option, one in told.items():
        low, likely, high = one.weeks or (None, None, None)
        words = "" if one.weeks else (NOT_YET if option.works.all() else "")
        Option.objects.filter(pk=option.pk).update(
            weeks_low=low, weeks_likely=likely, weeks_high=high, weeks_words=words
        )
    return True


def _tell_choice(choice: ChangeChoice, without: Foreseen, later: Foreseen) -> None:
    if later.p50 is None or later.p80 is None:
        return
    today = timezone.localdate(clock.now())
    low = max(0, (later.p50 - (without.p50 or today)).days)
    high = max(low, (later.p80 - (without.p80 or today)).days)
    still_open = ChangeChoice.objects.filter(
        pk=choice.pk, remedy=choice.remedy, days_high=None, change__state=ChangeOrder.State.DRAFT
    )
    still_open.update(days_low=low, days_high=high)


def _work_of(offer: Offer, option: Option) -> NewWork:
    return _beside(offer.instrument, [work.operation for work in option.works.all()])


def _beside(piano: Instrument, operations: Sequence[Operation]) -> NewWork:
    """What is still to be done of these operations, beside the open work of an instrument."""
    signed = Task.objects.signed().filter(instrument=piano)
    if piano.arrived_on:
        signed = signed.filter(stage_since__date__gte=piano.arrived_on)
    done = set(signed.values_list("operation_id", flat=True))
    return NewWork(piano.kind, [one for one in operations if one.pk not in done], on=piano)
