"""What was left as found on an instrument: every finding that was not repaired, on purpose."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, QuerySet

from shopflow.instruments.models import Finding, Instrument
from shopflow.instruments.selectors.findings import CurrentFinding, by_consequence, current_findings
from shopflow.offers.models import LeftAsFound


def left_as_found(instrument: Instrument) -> list[LeftAsFound]:
    """The decisions that hold, the gravest finding first; one query."""
    return list(_rows(instrument).filter(ended_at=None).order_by("-finding__severity", "finding__number"))


def no_longer_left(instrument: Instrument) -> list[LeftAsFound]:
    """Decisions that ended: mended after all, or decided anew."""
    return list(_rows(instrument).exclude(ended_at=None).order_by("-ended_at"))


def undecided(instrument: Instrument) -> list[CurrentFinding]:
    """Findings about which nobody has decided yet, the gravest first."""
    found = current_findings(instrument)
    return by_consequence(one for one in found if one.state == Finding.State.OPEN)


@dataclass(frozen=True, slots=True)
class LeftBriefly:
    """What a page that is not about it says of it: how many, and the gravest."""

    count: int
    gravest: str

    def __bool__(self) -> bool:
        return self.count > 0


def left_briefly(instrument: Instrument) -> LeftBriefly:
    rows = LeftAsFound.objects.filter(finding__instrument=instrument, ended_at=None)
    first = rows.order_by("-finding__severity", "finding__number").values_list("finding__name", flat=True)
    count = rows.aggregate(count=Count("pk"))["count"]
    return LeftBriefly(count, first[0] if count else "")


def _rows(instrument: Instrument) -> QuerySet[LeftAsFound]:
    return LeftAsFound.objects.filter(finding__instrument=instrument).select_related(
        "finding__group",
        "finding__kind",
        "finding__survey",
        "approval__offer",
        "answer__change",
        "entered_by",
    )
