"""How keys play: weights read at each key, and the dimensions an action is regulated to."""

from __future__ import annotations

from django.db import transaction
from django.db.models import F

from shopflow.catalogue.models import SheetKind
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.people.edits import ChangedMeanwhile
from shopflow.people.models import Person
from shopflow.readings.benches import require_write
from shopflow.readings.models import KeyWeight, Phase, RegulatingSample, RegulatingValue
from shopflow.readings.regulating_defaults import USUAL

from .evidence import note_that_it_was_read

# Beyond these a key is misread far more often than it plays so (common practice, no source).
POSSIBLE_DOWN_G, POSSIBLE_UP_G = (20.0, 120.0), (0.0, 80.0)


@transaction.atomic
def weigh_key(
    *,
    instrument: Instrument,
    phase: str,
    note: int,
    down_g: float,
    up_g: float,
    by: Person,
    typed: str = "",
    measured_again: bool = False,
) -> KeyWeight:
    """Keep down and up weight of one key; the same again changes nothing, another one strikes the older."""
    require_write(by, SheetKind.ACTION)
    if phase not in Phase.values or not 1 <= note <= 88:
        raise Refused("A key is 1 to 88, weighed before, during or after the work.")
    if not 0 <= up_g <= down_g <= 1000:
        raise Refused(
            f"Up {up_g:g} g, down {down_g:g} g: a key lifts no more than takes it down; 0 to 1000 g.",
            field="up_g",
        )
    standing = _standing_key(instrument, phase, note)
    if standing and (standing.down_g, standing.up_g) == (down_g, up_g):
        return standing
    if standing:
        standing.struck_at = clock.now()
        standing.save(update_fields=["struck_at"])
    note_that_it_was_read(instrument, SheetKind.ACTION)
    return KeyWeight.objects.create(
        instrument=instrument,
        phase=phase,
        note=note,
        down_g=down_g,
        up_g=up_g,
        typed=typed,
        measured_again=measured_again,
        by=by,
        at=clock.now(),
    )


def _standing_key(instrument: Instrument, phase: str, note: int) -> KeyWeight | None:
    rows = KeyWeight.objects.select_for_update().filter(struck_at=None)
    return rows.filter(instrument=instrument, phase=phase, note=note).first()


@transaction.atomic
def strike_key(*, instrument: Instrument, phase: str, note: int, by: Person) -> None:
    """Take one key's weights off the account; the row stays, struck."""
    require_write(by, SheetKind.ACTION)
    standing = _standing_key(instrument, phase, note)
    if standing:
        standing.struck_at = clock.now()
        standing.save(update_fields=["struck_at"])


@transaction.atomic
def begin_values(*, instrument: Instrument, by: Person) -> list[RegulatingValue]:
    """Give an instrument the usual values of its kind to begin with, where it has none of its own."""
    require_write(by, SheetKind.ACTION)
    there = set(instrument.regulating_values.values_list("code", flat=True))
    RegulatingValue.objects.bulk_create(
        [
            RegulatingValue(instrument=instrument, position=place, **usual._asdict())
            for place, usual in enumerate(USUAL[instrument.kind])
            if usual.code not in there
        ],
        ignore_conflicts=True,
    )
    return list(instrument.regulating_values.all())


@transaction.atomic
def set_value(
    *,
    value: RegulatingValue,
    bass_mm: float,
    treble_mm: float,
    tolerance_mm: float,
    seen_version: int,
    by: Person,
) -> RegulatingValue:
    """Make a value the instrument's own."""
    require_write(by, SheetKind.ACTION)
    locked = RegulatingValue.objects.select_for_update().get(pk=value.pk)
    now = {"bass_mm": locked.bass_mm, "treble_mm": locked.treble_mm, "tolerance_mm": locked.tolerance_mm}
    wanted = {"bass_mm": bass_mm, "treble_mm": treble_mm, "tolerance_mm": tolerance_mm}
    if wanted == now:
        return locked
    if locked.version != seen_version:
        raise ChangedMeanwhile(now, wanted)
    for name, mm in wanted.items():
        setattr(locked, name, mm)
    locked.basis, locked.version = f"this instrument, set by {by.name}"[:120], F("version") + 1
    locked.clean_fields(exclude=["instrument", "version"])
    locked.save()
    locked.refresh_from_db()
    return locked


@transaction.atomic
def read_sample(
    *, value: RegulatingValue, phase: str, note: int, read_mm: float, by: Person
) -> RegulatingSample:
    """Keep one dimension read at one note; read anew, the older one is struck."""
    require_write(by, SheetKind.ACTION)
    if phase not in Phase.values or not 1 <= note <= 88 or not -20 <= read_mm <= 200:
        raise Refused(f"Note {note}, {read_mm:g} mm: allowed are notes 1 to 88 and -20 to 200 mm.")
    rows = RegulatingSample.objects.select_for_update().filter(struck_at=None)
    standing = rows.filter(value=value, phase=phase, note=note).first()
    if standing and standing.read_mm == read_mm:
        return standing
    if standing:
        standing.struck_at = clock.now()
        standing.save(update_fields=["struck_at"])
    note_that_it_was_read(value.instrument, SheetKind.ACTION)
    return RegulatingSample.objects.create(
        value=value, phase=phase, note=note, read_mm=read_mm, by=by, at=clock.now()
    )
