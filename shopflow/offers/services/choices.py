"""The answers that a change order offers: begun from the library, priced as part of the job, typed over."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from shopflow.catalogue.models import Remedy, Terms
from shopflow.common.refusals import Refused
from shopflow.offers.models import ChangeChoice, ChangeOrder
from shopflow.offers.selectors.extra import Extra, JobUnderWay, fitting
from shopflow.offers.selectors.remedies import with_work

from .safety import may_be_left

CHOICE_FACTS = (
    "remedy",
    "words",
    "consequence",
    "price",
    "price_reason",
    "price_later",
    "days_low",
    "days_high",
)


def first_choices(change: ChangeOrder) -> None:
    """Do the whole of it, do it the lighter way where there is one, or leave it where that is safe."""
    kind, job = change.finding.kind, JobUnderWay.of(change.instrument)
    known = fitting(change.instrument, with_work(kind.remedies.all())) if kind else []
    possible = [one for one in known if job.change(one) is not None]
    best = max(possible, key=lambda one: (one.cures, one.position)) if possible else None
    lighter = next((one for one in possible if best and _is_cheaper(one, best, job)), None)
    rows = [_choice(change, ChangeChoice.Kind.DO, best, job)]
    if lighter is not None:
        rows.append(_choice(change, ChangeChoice.Kind.CHEAPER, lighter, job))
    if may_be_left(change.finding):
        rows.append(_left(change, best, job))
    for place, row in enumerate(rows):
        row.position = place
    ChangeChoice.objects.bulk_create(rows)


def _is_cheaper(one: Remedy, best: Remedy, job: JobUnderWay) -> bool:
    """Whether it is lighter in the library and no dearer in the state of today: both, or it is no choice."""
    light, full = job.now(one), job.now(best)
    return one.position < best.position and bool(light and full and light.asked <= full.asked)


def _left(change: ChangeOrder, best: Remedy | None, job: JobUnderWay) -> ChangeChoice:
    later = job.later(best) if best else None
    return ChangeChoice(
        change=change,
        kind=ChangeChoice.Kind.LEAVE,
        words="It stays as it is.",
        consequence=change.finding.kind.if_left if change.finding.kind else "",
        price_later=later.price if later else None,
        days_low=0,
        days_high=0,
    )


def _choice(change: ChangeOrder, kind: str, remedy: Remedy | None, job: JobUnderWay) -> ChangeChoice:
    choice = ChangeChoice(change=change, kind=kind, remedy=remedy, words=remedy.name if remedy else "")
    if remedy is not None:
        _price(choice, job)
        if remedy.cures < 100:
            choice.consequence = f"It puts about {remedy.cures} % of it right. {remedy.note}".strip()
    return choice


def _price(choice: ChangeChoice, job: JobUnderWay) -> None:
    """From the remedy, in the state of today, less what falls away; nothing where the shop carries it."""
    choice.credit, choice.falls_away, choice.besides, choice.in_vain = Decimal(0), [], [], []
    if choice.remedy is None:
        return
    extra = job.now(choice.remedy)
    if extra is None:
        raise Refused(f"“{choice.remedy.name}” does not go with the work that is open on this piano.")
    is_carried = choice.change.policy == Terms.Surprise.FIXED
    choice.hours, choice.cost = extra.hours, extra.least
    choice.falls_away = [one.name for one in extra.away]
    choice.in_vain = [job.knowledge.name(code) for code in sorted(extra.in_vain)]
    own = set(job.codes_of(choice.remedy))
    choice.besides = [[one.name, _why(extra, one.code)] for one in extra.operations if one.code not in own]
    choice.credit = Decimal(0) if is_carried else min(extra.credit, extra.price)
    if not extra.operations:
        # It is in the job anyway: it costs nothing more and makes nothing later.
        choice.days_low = choice.days_high = 0
    choice.price = Decimal(0) if is_carried else extra.asked


def _why(extra: Extra, code: str) -> str:
    once_more = " (once more)" if code in extra.again else ""
    return next(iter(extra.reasons.get(code, ())), "") + once_more


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
        row.price = row.cost = row.hours = row.credit = Decimal(0)
        row.falls_away, row.besides, row.in_vain, row.price_reason = [], [], [], ""
        row.remedy, row.days_low, row.days_high = None, 0, 0
        return
    typed = row.price
    _price(row, job)
    if not price_anew and typed is not None and row.change.policy != Terms.Surprise.FIXED:
        row.price = typed
    if other_remedy and row.hours:
        row.days_low = row.days_high = None
