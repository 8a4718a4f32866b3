"""The offers of an instrument, and what waits for whom over all instruments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.http import Http404
from django.urls import reverse
from django.utils import timezone

from shopflow.common import clock
from shopflow.customers.models import LinkVisit
from shopflow.instruments.models import Finding, Instrument
from shopflow.offers.models import ChangeOrder, Offer, Option, Scope

from .owner import of_its_owner

SCOPES_SHOWN = 8


def offers_of(instrument: Instrument) -> list[Offer]:
    """All versions, the newest first, with their options and what was said to them."""
    return list(_rows().filter(instrument=instrument).order_by("-version").defer("frozen"))


def offer_or_404(instrument: Instrument, version: int) -> Offer:
    found = _rows().filter(instrument=instrument, version=version).first()
    if found is None:
        raise Http404("There is no such version.")
    return found


def told_offer(instrument: Instrument, version: int) -> Offer | None:
    """A version that its customer was sent, whatever became of it; None where there is none."""
    return _rows().filter(told_to_owner(instrument), version=version).first()


def told_to_owner(instrument: Instrument) -> Q:
    """Sent, and to the one who owns the piano now: an earlier owner's offers are nobody else's to read."""
    return of_its_owner(instrument) & ~Q(fingerprint="")


def scopes_of(instrument: Instrument) -> list[Scope]:
    """The scopes that were weighed and kept last."""
    return list(Scope.objects.filter(instrument=instrument).select_related("made_by")[:SCOPES_SHOWN])


def approved_offer(instrument: Instrument) -> Offer | None:
    return _rows().filter(instrument=instrument, state=Offer.State.APPROVED).order_by("-version").first()


@dataclass(frozen=True, slots=True)
class Figures:
    """What an option is to the office: no customer ever sees this."""

    option: Option
    margin: Decimal
    margin_percent: Decimal | None

    @property
    def is_asked_of_the_plan(self) -> bool:
        return self.option.weeks_low is None and not self.option.weeks_words


def figures_of(options: Sequence[Option]) -> list[Figures]:
    return [_figures(option) for option in options]


def _figures(option: Option) -> Figures:
    margin = option.price - option.cost
    share = (margin / option.cost * 100).quantize(Decimal(1)) if option.cost else None
    return Figures(option, margin, share)


@dataclass(frozen=True, slots=True)
class Waiting:
    """One thing that waits for somebody: what, for whom, since when, and until when."""

    instrument: Instrument
    what: str
    address: tuple[str, list[Any]]
    for_whom: str
    since: date | None
    until: date | None
    last_seen: date | None = None

    @property
    def url(self) -> str:
        page, args = self.address
        return reverse(page, args=args)

    @property
    def is_past(self) -> bool:
        return self.until is not None and self.until < clock.today()

    @property
    def days(self) -> int | None:
        return None if self.since is None else (clock.today() - self.since).days


@dataclass(frozen=True, slots=True)
class Overview:
    with_customers: list[Waiting]
    with_us: list[Waiting]


def overview() -> Overview:
    """What waits for customers, longest first, and what waits for the office: a fixed number of queries."""
    seen = _last_seen()
    asked = [_offer_asked(offer, seen.get(offer.instrument_id)) for offer in _sent_offers()]
    asked += [_change_asked(one, seen.get(one.instrument_id)) for one in _sent_changes()]
    drafts = [_offer_draft(offer) for offer in _drafts()] + [_change_draft(one) for one in _change_drafts()]
    return Overview(
        with_customers=sorted(asked, key=lambda one: (one.since or clock.today(), one.instrument.number)),
        with_us=sorted(drafts + _unoffered(), key=lambda one: (one.since or date.max, one.instrument.number)),
    )


def _rows() -> QuerySet[Offer]:
    return Offer.objects.select_related(
        "instrument__customer",
        "instrument__route",
        "made_by",
        "sent_by",
        "approval__option",
        "approval__entered_by",
    ).prefetch_related("options")


def _sent_offers() -> QuerySet[Offer]:
    rows = Offer.objects.filter(state=Offer.State.SENT).select_related("instrument__customer")
    return rows.defer("frozen")


def _drafts() -> QuerySet[Offer]:
    return Offer.objects.filter(state=Offer.State.DRAFT).select_related("instrument__customer", "made_by")


def _sent_changes() -> QuerySet[ChangeOrder]:
    rows = ChangeOrder.objects.filter(state=ChangeOrder.State.SENT)
    return rows.select_related("instrument__customer", "finding").defer("frozen")


def _change_drafts() -> QuerySet[ChangeOrder]:
    return ChangeOrder.objects.filter(state=ChangeOrder.State.DRAFT).select_related("instrument", "made_by")


def _offer_asked(offer: Offer, seen: date | None) -> Waiting:
    return Waiting(
        offer.instrument,
        f"offer, version {offer.version}",
        ("offers:offer", [offer.instrument.number, offer.version]),
        _owner(offer.instrument),
        _day(offer.sent_at),
        offer.holds_until,
        seen,
    )


def _change_asked(change: ChangeOrder, seen: date | None) -> Waiting:
    return Waiting(
        change.instrument,
        f"change order {change.number}: {change.finding.name}",
        ("offers:change", [change.instrument.number, change.number]),
        _owner(change.instrument),
        _day(change.sent_at),
        change.decide_by,
        seen,
    )


def _offer_draft(offer: Offer) -> Waiting:
    return Waiting(
        offer.instrument,
        f"offer, version {offer.version}: to be sent",
        ("offers:offer", [offer.instrument.number, offer.version]),
        offer.made_by.name,
        _day(offer.made_at),
        offer.holds_until,
    )


def _change_draft(change: ChangeOrder) -> Waiting:
    return Waiting(
        change.instrument,
        f"change order {change.number}: to be sent",
        ("offers:change", [change.instrument.number, change.number]),
        change.made_by.name,
        _day(change.made_at),
        change.decide_by,
    )


def _unoffered() -> list[Waiting]:
    """Surveyed pianos in the house with findings to decide, for which nobody has begun an offer."""
    begun = Offer.objects.filter(instrument=OuterRef("pk"))
    open_findings = Finding.objects.filter(
        instrument=OuterRef("pk"), state=Finding.State.OPEN, taken_back_at=None
    )
    rows = Instrument.objects.filter(Exists(open_findings), ~Exists(begun), left_on=None)
    return [
        Waiting(one, "surveyed, no offer yet", ("offers:offers", [one.number]), "the office", None, None)
        for one in rows.select_related("customer")
    ]


def last_seen(instrument: Instrument) -> date | None:
    """The day on which the customer's page was last opened by any of its links."""
    return _last_seen(LinkVisit.objects.filter(link__instrument=instrument)).get(instrument.pk)


def _last_seen(visits: QuerySet[LinkVisit] | None = None) -> dict[int, date]:
    """By instrument, the day on which its page was last opened by a link."""
    found = LinkVisit.objects.all() if visits is None else visits
    rows = found.order_by("last_at").values_list("link__instrument_id", "last_at")
    return {instrument: timezone.localdate(at) for instrument, at in rows}


def _owner(instrument: Instrument) -> str:
    return instrument.customer.name if instrument.customer else "its owner"


def _day(moment: datetime | None) -> date | None:
    return timezone.localdate(moment) if moment else None
