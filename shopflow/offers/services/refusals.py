"""Why an offer cannot be approved, sent or changed, in words for the one who tried."""

from __future__ import annotations

from shopflow.common.refusals import Refused
from shopflow.offers.frozen import day_in_words
from shopflow.offers.models import Approval, Offer


class OtherVersion(Refused):
    """A yes to words that no longer stand. Answered with 409, and both versions are shown."""

    status = 409

    def __init__(self, offer: Offer, standing: Offer | None) -> None:
        self.offer, self.standing = offer, standing
        after = "Please read the version that stands now." if standing else "Please speak with the shop."
        super().__init__(f"This version was replaced or withdrawn; nothing was approved. {after}")


class ApprovedAlready(Refused):
    """Somebody said yes before, otherwise. Answered with 409."""

    status = 409

    def __init__(self, approval: Approval) -> None:
        self.approval = approval
        super().__init__(
            f"This offer was approved already on {day_in_words(approval.at.date())} "
            f"by {approval.typed_name}: “{approval.option.name}”. Nothing was changed."
        )


class PriceExpired(Refused):
    """The prices held until a day that is past."""

    def __init__(self, offer: Offer) -> None:
        super().__init__(
            f"These prices held until {day_in_words(offer.holds_until)}. Nothing was approved: please ask us "
            "for a fresh offer, it takes a day or two."
        )


class DraftChanged(Refused):
    """Somebody else saved this draft since the page was opened. Answered with 409."""

    status = 409

    def __init__(self, offer: Offer) -> None:
        self.offer = offer
        super().__init__(
            "Somebody else changed this draft meanwhile. Nothing of yours was saved yet: compare, then save."
        )
