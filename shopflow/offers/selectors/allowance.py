"""How much may be done without asking, where the terms allow a share of the price agreed."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from shopflow.catalogue.models import Terms
from shopflow.instruments.models import Instrument
from shopflow.offers.models import Approval, ChangeAnswer, ChangeOrder


@dataclass(frozen=True, slots=True)
class Allowance:
    """The price agreed, the share of it that needs no question, and what of that is used."""

    approved: Decimal
    share: Decimal
    spent: Decimal

    @property
    def left(self) -> Decimal:
        return max(Decimal(0), self.share - self.spent)


def allowance_of(change: ChangeOrder) -> Allowance:
    """By the terms that this change order was begun under."""
    percent = change.policy_percent if change.policy == Terms.Surprise.UP_TO else 0
    approved = approved_price(change.instrument)
    spent = ChangeAnswer.objects.filter(by_policy=True, change__instrument=change.instrument)
    used = spent.exclude(change=change).aggregate(sum=Sum("choice__price"))["sum"] or Decimal(0)
    return Allowance(approved, (approved * percent / 100).quantize(Decimal("0.01")), used)


def approved_price(instrument: Instrument) -> Decimal:
    """Of the offer that was approved last; nothing where none was."""
    approval = (
        Approval.objects.filter(offer__instrument=instrument).select_related("option").order_by("-at").first()
    )
    return approval.option.price if approval else Decimal(0)
