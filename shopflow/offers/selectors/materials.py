"""What the next technician wants to know, as far as the sheets of the benches tell it."""

from __future__ import annotations

from django.db.models import Count, Max, Min, Q

from shopflow.compute.proof import Proof
from shopflow.instruments.models import Instrument
from shopflow.offers.aftercare import is_restrung
from shopflow.readings.models import StringScale


def materials_of(instrument: Instrument, proof: Proof) -> str:
    """A line for each thing that is known; the shop adds the rest in its own words."""
    strings = _strings(instrument) if is_restrung(proof) else ""
    lines = [f"Finish: {instrument.finish}." if instrument.finish else "", strings]
    return "\n".join(line for line in lines if line)


def _strings(instrument: Instrument) -> str:
    strung = StringScale.objects.filter(instrument=instrument, kind=StringScale.Kind.STRUNG)
    scale = strung.order_by("-changed_at", "-pk").first()
    if scale is None:
        return ""
    plain = Q(cover_mm=None)
    told = scale.notes.aggregate(
        notes=Count("pk"),
        thin=Min("wire_mm", filter=plain),
        thick=Max("wire_mm", filter=plain),
        wound=Count("pk", filter=~plain),
    )
    if not told["notes"]:
        return ""
    wires = f"plain wire {told['thin']:.3f} to {told['thick']:.3f} mm" if told["thin"] else "no plain wire"
    wound = f", {told['wound']} notes wound" if told["wound"] else ""
    return f"Strings as strung: {wires}{wound}; reckoned for A4 at {scale.a4_hz:g} Hz."
