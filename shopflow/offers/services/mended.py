"""What is mended: a finding whose tasks are all signed."""

from __future__ import annotations

from collections import defaultdict

from django.db import transaction

from shopflow.catalogue.models import Stage
from shopflow.instruments.models import Finding, Instrument
from shopflow.offers.models import LaidOut


@transaction.atomic
def note_what_is_mended(instrument: Instrument) -> list[Finding]:
    """Bring the findings that were to be mended in step with the signed work; safe to do again and again.

    The work is signed at benches, which know nothing of offers: so the offers look, and nobody is told.
    """
    stages: dict[int, set[str]] = defaultdict(set)
    ties = LaidOut.objects.filter(task__instrument=instrument, task__dropped_at=None)
    for finding, kind in ties.values_list("finding_id", "task__stage__kind"):
        if finding is not None:
            stages[finding].add(kind)
    done = [finding for finding, kinds in stages.items() if kinds == {Stage.Kind.SIGNED}]
    rows = Finding.objects.select_for_update(of=("self",)).filter(
        pk__in=done, state=Finding.State.IN_WORK
    )
    mended = list(rows)
    for finding in mended:
        finding.state = Finding.State.MENDED
        finding.save(update_fields=["state"])
    return mended
