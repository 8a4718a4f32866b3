"""What no offer may leave: a piano with it is not handed over."""

from __future__ import annotations

from shopflow.common.refusals import Refused
from shopflow.offers.models import Offer, Treatment

from .drafting import Bench
from .levels import is_required


def refuse_what_is_unsafe(offer: Offer) -> None:
    """Name every option that leaves what has to be mended for safety, where a remedy is known."""
    bench = Bench.of(offer.instrument)
    required = {one.pk: one for one in bench.found if is_required(one) and bench.remedies.get(one.pk)}
    left = [
        f"“{option.name}” leaves {required[row.finding_id].number}. {required[row.finding_id].name}"
        for option in offer.options.prefetch_related("findings")
        for row in option.findings.all()
        if row.treatment == Treatment.LEAVE and row.finding_id in required
    ]
    if left:
        raise Refused(f"This is a matter of safety and cannot be left: {'; '.join(left)}.")
