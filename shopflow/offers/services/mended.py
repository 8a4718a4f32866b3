"""What is mended: a finding whose tasks are all signed."""

from __future__ import annotations

from django.db import transaction

from shopflow.instruments.models import Finding, Instrument
from shopflow.offers.selectors.handovers import mended_by_work


@transaction.atomic
def note_what_is_mended(instrument: Instrument) -> list[Finding]:
    """Bring the findings that were to be mended in step with the signed work; safe to do again and again.

    The work is signed at benches, which know nothing of offers: so the offers look, and nobody is told.
    """
    waiting = Finding.objects.select_for_update(of=("self",)).filter(
        pk__in=mended_by_work(instrument), state=Finding.State.IN_WORK
    )
    mended = list(waiting)
    for finding in mended:
        finding.state = Finding.State.MENDED
        finding.save(update_fields=["state"])
    return mended


def note_what_is_mended_anywhere() -> int:
    """For every instrument with something still to be mended; how many findings were."""
    waiting = Finding.objects.filter(state=Finding.State.IN_WORK, tasks__isnull=False)
    pianos = Instrument.objects.filter(pk__in=waiting.values("instrument"))
    return sum(len(note_what_is_mended(piano)) for piano in pianos)
