"""What a customer's page shows: of one instrument, and nothing of anybody else."""

from __future__ import annotations

from dataclasses import dataclass, field

from shopflow.instruments.models import Instrument
from shopflow.offers.models import Offer


@dataclass(frozen=True, slots=True)
class Yours:
    """The customer's first page. Only what stands here can be shown there."""

    number: str
    title: str
    maker_and_serial: str
    offers: list[Offer] = field(default_factory=list)

    @property
    def waiting(self) -> list[Offer]:
        return [offer for offer in self.offers if offer.state == Offer.State.SENT]

    @property
    def papers(self) -> list[Offer]:
        return [offer for offer in self.offers if offer.state != Offer.State.SENT]


def customers_page(instrument: Instrument) -> Yours:
    return Yours(
        number=instrument.number,
        title=instrument.title,
        maker_and_serial=f"serial {instrument.serial}" if instrument.serial else "",
        offers=list(
            Offer.objects.filter(instrument=instrument)
            .exclude(state__in=[Offer.State.DRAFT])
            .exclude(fingerprint="")
            .order_by("-version")
            .defer("frozen")
        ),
    )
