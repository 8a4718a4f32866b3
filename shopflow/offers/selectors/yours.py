"""What a customer's page shows: of one instrument, and nothing of anybody else."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from shopflow.common import clock
from shopflow.instruments.models import Instrument
from shopflow.offers.models import ChangeOrder, Handover, Offer
from shopflow.photos.models import Photo

from .changes import told_changes_of
from .handovers import given_to_owner
from .offers import told_to_owner
from .shown import chosen_photos
from .standing import Standing, where_it_stands


@dataclass(frozen=True, slots=True)
class Yours:
    """The customer's first page. Only what stands here can be shown there."""

    number: str
    title: str
    maker_and_serial: str
    offers: list[Offer] = field(default_factory=list)
    changes: list[ChangeOrder] = field(default_factory=list)
    handovers: list[Handover] = field(default_factory=list)
    photos: list[Photo] = field(default_factory=list)
    standing: Standing = field(default_factory=lambda: Standing(""))
    today: date = field(default_factory=clock.today)

    @property
    def waiting(self) -> list[Offer]:
        return [offer for offer in self.offers if offer.state == Offer.State.SENT]

    @property
    def changes_waiting(self) -> list[ChangeOrder]:
        return [change for change in self.changes if change.state == ChangeOrder.State.SENT]

    @property
    def changes_settled(self) -> list[ChangeOrder]:
        return [change for change in self.changes if change.state == ChangeOrder.State.SETTLED]

    @property
    def papers(self) -> list[Offer]:
        return [offer for offer in self.offers if offer.state != Offer.State.SENT]


def customers_page(instrument: Instrument) -> Yours:
    return Yours(
        number=instrument.number,
        title=instrument.title,
        maker_and_serial=f"serial {instrument.serial}" if instrument.serial else "",
        offers=list(Offer.objects.filter(told_to_owner(instrument)).order_by("-version").defer("frozen")),
        changes=told_changes_of(instrument),
        handovers=given_to_owner(instrument),
        photos=chosen_photos(instrument),
        standing=where_it_stands(instrument, today=clock.today()),
    )
