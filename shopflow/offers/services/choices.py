"""The answers that a change order offers: begun from the library, priced as part of the job, typed over."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shopflow.catalogue.models import Remedy, Terms
from shopflow.offers.models import ChangeChoice, ChangeOrder
from shopflow.offers.selectors.extra import JobUnderWay, remedies_for

CHOICE_FACTS = ("remedy", "words", "consequence", "price", "price_later", "days_low", "days_high")


def first_choices(change: ChangeOrder) -> None:
    """Do the whole of it, do it the lighter way where there is one, or leave it."""
    kind = change.finding.kind
    fitting = remedies_for(change.instrument, kind.remedies.prefetch_related("operations")) if kind else []
    job = JobUnderWay.of(change.instrument)
    best = max(fitting, key=lambda one: (one.cures, one.position)) if fitting else None
    lighter = next((one for one in fitting if best and one.position < best.position), None)
    rows = [_choice(change, ChangeChoice.Kind.DO, best, job)]
    if lighter is not None:
        rows.append(_choice(change, ChangeChoice.Kind.CHEAPER, lighter, job))
    rows.append(
        ChangeChoice(
            change=change,
            kind=ChangeChoice.Kind.LEAVE,
            words="It stays as it is.",
            consequence=kind.if_left if kind else "",
            price_later=job.later(best).price if best else None,
            days_low=0,
            days_high=0,
        )
    )
    for place, row in enumerate(rows):
        row.position = place
    ChangeChoice.objects.bulk_create(rows)


def _choice(change: ChangeOrder, kind: str, remedy: Remedy | None, job: JobUnderWay) -> ChangeChoice:
    choice = ChangeChoice(change=change, kind=kind, remedy=remedy, words=remedy.name if remedy else "")
    if remedy is not None:
        _price(choice, job)
        if remedy.cures < 100:
            choice.consequence = f"It mends about {remedy.cures} % of the harm. {remedy.note}".strip()
    return choice


def _price(choice: ChangeChoice, job: JobUnderWay) -> None:
    """From the remedy, as part of this job; nothing where the shop carries surprises."""
    if choice.remedy is None:
        return
    extra = job.now(choice.remedy)
    is_carried = choice.change.policy == Terms.Surprise.FIXED
    choice.hours, choice.cost = extra.hours, extra.cost
    if not extra.operations:
        # It is in the job anyway: it costs nothing more and makes nothing later.
        choice.days_low = choice.days_high = 0
    choice.price = 0 if is_carried else extra.price


def save_choices(change: ChangeOrder, choices: Mapping[str, Mapping[str, Any]], *, price_anew: bool) -> None:
    there = {choice.kind: choice for choice in change.choices.all()}
    job = JobUnderWay.of(change.instrument)
    for place, kind in enumerate(ChangeChoice.Kind.values):
        wanted, row = choices.get(kind), there.get(kind)
        if wanted is None:
            if row is not None:
                row.delete()
            continue
        row = row or ChangeChoice(change=change, kind=kind)
        other_remedy = row.pk is None or row.remedy_id != (wanted["remedy"].pk if wanted["remedy"] else None)
        for name in CHOICE_FACTS:
            setattr(row, name, wanted[name])
        row.change, row.position = change, place
        _reckon(row, job, price_anew=price_anew, other_remedy=other_remedy)
        row.save()


def _reckon(row: ChangeChoice, job: JobUnderWay, *, price_anew: bool, other_remedy: bool) -> None:
    if row.kind == ChangeChoice.Kind.LEAVE:
        row.price = row.cost = row.hours = 0
        row.remedy, row.days_low, row.days_high = None, 0, 0
        return
    typed = row.price
    _price(row, job)
    if not price_anew and typed is not None and row.change.policy != Terms.Surprise.FIXED:
        row.price = typed
    if other_remedy and row.hours:
        row.days_low = row.days_high = None
