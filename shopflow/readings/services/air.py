"""The log of the rooms' air."""

from __future__ import annotations

from typing import Any

from shopflow.common import clock
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.people.taps import TapIn
from shopflow.readings.measures import Measure
from shopflow.readings.models import RoomAir
from shopflow.workshop.services.taps import Answer, once


def note_air(*, room: str, temperature: Measure, humidity: Measure, by: Person, tap: TapIn) -> Answer:
    """Write down the air of a room, once for this tap."""
    typed = f"{temperature}, {humidity}"

    def deed() -> dict[str, Any]:
        access.require(by, Deed.READINGS)
        line = RoomAir.objects.create(
            room=room,
            temp_c=temperature.value,
            rh_percent=humidity.value,
            typed=typed,
            by=by,
            at=clock.now(),
        )
        return {"air": line.pk, "words": f"{room}: {typed} is in the log."}

    return once(tap, body={"deed": "air", "room": room, "typed": typed, "by": by.pk}, deed=deed)
