"""What mends a finding here: the remedies that are done on this kind of piano, and what they take."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from django.db.models import QuerySet

from shopflow.catalogue.models import FindingKind, Operation, Remedy
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors import CurrentFinding


def work_of(remedy: Remedy, kind: str) -> list[Operation]:
    """All that a remedy takes on an upright or on a grand."""
    besides = remedy.besides_grand if kind == "grand" else remedy.besides_upright
    return list({one.pk: one for one in (*remedy.operations.all(), *besides.all())}.values())


def with_work(rows: QuerySet[Remedy]) -> QuerySet[Remedy]:
    """The rows with all that `work_of` reads."""
    return rows.prefetch_related("operations", "besides_grand", "besides_upright")


def remedies_by_finding(
    instrument: Instrument, found: Sequence[CurrentFinding], done_here: Collection[int]
) -> dict[int, list[Remedy]]:
    """By finding, the lightest first: in use, done here, and never what a finding of this piano forbids."""
    kinds = {one.kind.pk: one.kind for one in found if one.kind}
    forbidden = set(FindingKind.forbids.through.objects.filter(findingkind__in=kinds).values_list(
        "operation_id", flat=True))  # fmt: skip
    rows = Remedy.objects.in_use().filter(finding_kind__in=kinds, only_for__in=("", instrument.kind))
    by_kind: dict[int, list[Remedy]] = {}
    for remedy in with_work(rows).order_by("position", "pk"):
        takes = {one.pk for one in work_of(remedy, instrument.kind)}
        if takes & set(done_here) and not takes & forbidden:
            by_kind.setdefault(remedy.finding_kind_id, []).append(remedy)
    return {one.pk: by_kind.get(one.kind.pk, []) for one in found if one.kind}


def fitting(instrument: Instrument, remedies: Iterable[Remedy]) -> list[Remedy]:
    """Those that can be done on this kind of instrument, lightest first."""
    kept = [one for one in remedies if one.only_for in ("", instrument.kind) and one.retired_at is None]
    return sorted(kept, key=lambda one: (one.position, one.pk))
