"""Bearing of the bridges: read section by section, before and after."""

from __future__ import annotations

from django.db import transaction

from shopflow.catalogue.models import SheetKind
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.people.models import Person
from shopflow.readings.benches import require_write
from shopflow.readings.models import BearingReading, Phase

from .evidence import note_that_it_was_read


@transaction.atomic
def read_bearing(
    *,
    instrument: Instrument,
    phase: str,
    section: str,
    front_mm: float,
    front_over_mm: float,
    back_mm: float,
    back_over_mm: float,
    by: Person,
    typed: str = "",
    measured_again: bool = False,
) -> BearingReading:
    """Keep the bearing of one section; the same again changes nothing, another one strikes the older."""
    require_write(by, SheetKind.SOUNDBOARD)
    name = section.strip()
    if not name or phase not in Phase.values:
        raise Refused("Say which section, and whether before or after the work.", field="section")
    facts = {
        "front_mm": front_mm,
        "front_over_mm": front_over_mm,
        "back_mm": back_mm,
        "back_over_mm": back_over_mm,
    }
    rows = BearingReading.objects.select_for_update().filter(struck_at=None)
    standing = rows.filter(instrument=instrument, phase=phase, section=name).first()
    if standing and all(getattr(standing, each) == value for each, value in facts.items()):
        return standing
    made = BearingReading(
        instrument=instrument, phase=phase, section=name, typed=typed, by=by, at=clock.now(),
        measured_again=measured_again, **facts,
    )  # fmt: skip
    made.clean_fields(exclude=["instrument", "by"])
    if standing:
        standing.struck_at = clock.now()
        standing.save(update_fields=["struck_at"])
    made.save()
    note_that_it_was_read(instrument, SheetKind.SOUNDBOARD)
    return made
