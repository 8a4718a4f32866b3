"""What is read of an instrument counts as a reading of its open work with that sheet.

A stage may demand a reading before it is left; a scale, keys or bearing are readings as much as one line of
the sheet is.
"""

from __future__ import annotations

from shopflow.catalogue.models import SheetKind
from shopflow.common import clock, pulse
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Task


def note_that_it_was_read(instrument: Instrument, kind: SheetKind) -> None:
    """Inside the transaction of the deed that read."""
    tasks = Task.objects.open().filter(instrument=instrument, operation__sheet=kind)
    if tasks.update(read_at=clock.now()):
        pulse.bump()
