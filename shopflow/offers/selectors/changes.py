"""Change orders of an instrument, as the office sees them and as its customer was told of them."""

from __future__ import annotations

from django.db.models import QuerySet
from django.http import Http404

from shopflow.instruments.models import Finding, Instrument
from shopflow.instruments.selectors.findings import CurrentFinding, current_findings
from shopflow.offers.models import ChangeOrder

from .owner import of_its_owner


def changes_of(instrument: Instrument) -> list[ChangeOrder]:
    """Newest first, with their answers."""
    return list(_rows().filter(instrument=instrument).order_by("-number"))


def told_changes_of(instrument: Instrument) -> list[ChangeOrder]:
    """Those that the customer was told of, oldest first."""
    told = [ChangeOrder.State.SENT, ChangeOrder.State.SETTLED]
    return list(_rows().filter(of_its_owner(instrument), state__in=told).order_by("number"))


def change_or_404(instrument: Instrument, number: int) -> ChangeOrder:
    found = _rows().filter(instrument=instrument, number=number).first()
    if found is None:
        raise Http404("There is no such change order.")
    return found


def findings_to_ask_about(instrument: Instrument) -> list[CurrentFinding]:
    """Findings about which a change order could be begun: not decided, to be mended, or left."""
    wanted = [Finding.State.OPEN, Finding.State.IN_WORK, Finding.State.LEFT]
    asked = ChangeOrder.objects.filter(
        instrument=instrument, state__in=[ChangeOrder.State.DRAFT, ChangeOrder.State.SENT]
    )
    taken = set(asked.values_list("finding_id", flat=True))
    found = [one for one in current_findings(instrument) if one.state in wanted and one.pk not in taken]
    return sorted(found, key=lambda one: (-one.latest.survey.number, -one.severity, one.number))


def _rows() -> QuerySet[ChangeOrder]:
    return ChangeOrder.objects.select_related(
        "instrument", "finding__kind", "photo", "made_by", "answer__choice", "answer__entered_by"
    )


def told_change(instrument: Instrument, number: int) -> ChangeOrder | None:
    """The one of this number, if the customer was ever told of it; never a draft that nobody has sent."""
    found = _rows().filter(of_its_owner(instrument), number=number).first()
    was_told = found is not None and (found.fingerprint or found.snags.exists())
    return found if was_told else None
