"""What is mended: a finding whose remedy the signed work of this stay carried through."""

from __future__ import annotations

from django.db import transaction

from shopflow.instruments.models import Finding, Instrument
from shopflow.offers.selectors.fates import states_to_note


@transaction.atomic
def note_what_is_mended(instrument: Instrument) -> list[Finding]:
    """Bring the findings that were to be mended in step with the signed work; safe to do again and again.

    The work is signed at benches, which know nothing of offers: so the offers look, and nobody is told.
    """
    wanted = states_to_note(instrument)
    rows = Finding.objects.select_for_update(of=("self",)).filter(pk__in=wanted)
    findings = list(rows.filter(state__in=[Finding.State.IN_WORK, Finding.State.MENDED]))
    for finding in findings:
        finding.state = wanted[finding.pk]
        finding.save(update_fields=["state"])
    return [finding for finding in findings if finding.state == Finding.State.MENDED]


def note_what_is_mended_anywhere() -> int:
    """For every instrument with something still to be mended; how many findings were."""
    waiting = Finding.objects.filter(state=Finding.State.IN_WORK, tasks__isnull=False)
    pianos = Instrument.objects.filter(pk__in=waiting.values("instrument"))
    return sum(len(note_what_is_mended(piano)) for piano in pianos)
