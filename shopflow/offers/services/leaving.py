"""Leaving a finding as found, and taking that back when it is mended after all."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Finding
from shopflow.instruments.services.safety import refuse_leaving
from shopflow.offers.models import ChangeAnswer, LeftAsFound
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

SETTLED = {Finding.State.MENDED, Finding.State.WITHDRAWN}


@transaction.atomic
def leave_by_the_shop(
    *,
    finding: Finding,
    reason: str,
    consequence: str,
    by: Person,
    decided_by: str = "",
    can_wait: bool = True,
    price_later: Decimal | None = None,
) -> LeftAsFound:
    """Decide in the office that a finding stays as it is; deciding the same again changes nothing."""
    access.require(by, Deed.OFFERS)
    finding = Finding.objects.select_for_update(of=("self",)).get(pk=finding.pk)
    if finding.state in SETTLED or finding.taken_back_at is not None:
        raise Refused(f"“{finding.name}” is {finding.get_state_display()}: there is nothing to leave.")
    if finding.state == Finding.State.IN_WORK:
        raise Refused(
            f"“{finding.name}” is being mended: drop its tasks or write a change order before it is left."
        )
    if not consequence.strip():
        raise Refused("Say what to expect.", field="consequence")
    refuse_leaving(finding)
    there = LeftAsFound.objects.filter(finding=finding, ended_at=None).first()
    if there is not None:
        return there
    left = LeftAsFound.objects.create(
        finding=finding,
        reason=reason,
        decided_by=(decided_by.strip() or by.name)[:80],
        decided_at=clock.now(),
        consequence=consequence.strip(),
        can_wait=can_wait,
        price_later=price_later if can_wait else None,
        entered_by=by,
    )
    _put(finding, Finding.State.LEFT)
    return left


@transaction.atomic
def leave_by_answer(*, answer: ChangeAnswer) -> LeftAsFound:
    """The customer chose to leave it. An older decision about the same finding ends with this one."""
    change, choice = answer.change, answer.choice
    best = change.choices.exclude(remedy=None).order_by("position").first()
    end_decision(change.finding, why=f"decided anew in change order {change.number}")
    left = LeftAsFound.objects.create(
        finding=change.finding,
        reason=Finding.Reason.WISH,
        decided_by=answer.typed_name,
        decided_at=answer.at,
        consequence=choice.consequence,
        can_wait=choice.price_later is not None,
        price_now=best.price if best else None,
        price_later=choice.price_later,
        answer=answer,
        entered_by=answer.entered_by,
    )
    _put(change.finding, Finding.State.LEFT)
    return left


@transaction.atomic
def end_leaving(*, left: LeftAsFound, why: str, by: Person, is_mended: bool) -> LeftAsFound:
    """The decision no longer holds: it was mended after all, or is to be decided anew. It stays on record."""
    access.require(by, Deed.OFFERS)
    left = LeftAsFound.objects.select_for_update(of=("self",)).select_related("finding").get(pk=left.pk)
    if left.ended_at is not None:
        return left
    if not why.strip():
        raise Refused("Say why it no longer holds.", field="why")
    left.ended_at, left.ended_why = clock.now(), why.strip()[:200]
    left.save(update_fields=["ended_at", "ended_why"])
    _put(left.finding, Finding.State.MENDED if is_mended else Finding.State.OPEN)
    return left


def end_decision(finding: Finding, *, why: str) -> None:
    LeftAsFound.objects.filter(finding=finding, ended_at=None).update(
        ended_at=clock.now(), ended_why=why[:200]
    )


def _put(finding: Finding, state: str) -> None:
    finding.state = state
    finding.save(update_fields=["state"])
