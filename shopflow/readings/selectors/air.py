"""The log of the rooms' air, and its picture."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils import timezone

from shopflow.common import charts, clock
from shopflow.common.charts import Chart
from shopflow.compute import wood
from shopflow.readings.measures import PERCENT, TEMPERATURE
from shopflow.readings.models import RoomAir

LOGGED_DAYS = 60
DRAWN = 40
SHOWN = 12
SAME_AIR_HOURS = 12
COLDEST_IN_THE_TABLE = -2


@dataclass(frozen=True, slots=True)
class AirLine:
    """One line of the log, with the moisture at which wood settles in it."""

    row: RoomAir
    units: str

    @property
    def temperature(self) -> str:
        return TEMPERATURE.written(self.row.temp_c, self.units)

    @property
    def humidity(self) -> str:
        return PERCENT.written(self.row.rh_percent, self.units)

    @property
    def moisture(self) -> float | None:
        """Percent of the dry weight; None where the air lies outside the span of the published table."""
        if self.row.temp_c < COLDEST_IN_THE_TABLE:
            return None
        return wood.equilibrium_moisture(self.row.temp_c, self.row.rh_percent)


@dataclass(frozen=True, slots=True)
class Room:
    name: str
    lines: list[AirLine]
    pictures: list[Chart]

    @property
    def latest(self) -> AirLine:
        return self.lines[0]

    @property
    def shown(self) -> list[AirLine]:
        return self.lines[:SHOWN]


@dataclass(frozen=True, slots=True)
class AirLog:
    rooms: list[Room]


def log_of_air(*, units: str) -> AirLog:
    """Each room's last two months, the one that was looked at last first. One query."""
    since = clock.now() - timedelta(days=LOGGED_DAYS)
    rows: dict[str, list[AirLine]] = defaultdict(list)
    for row in RoomAir.objects.filter(at__gte=since).select_related("by").order_by("-at", "-pk"):
        rows[row.room].append(AirLine(row, units))
    return AirLog([_room(name, lines, units) for name, lines in rows.items()])


def latest_air() -> list[RoomAir]:
    """The freshest air of each room that is not older than half a day, for “same air as at 10:12”."""
    since = clock.now() - timedelta(hours=SAME_AIR_HOURS)
    found: dict[str, RoomAir] = {}
    for row in RoomAir.objects.filter(at__gte=since).order_by("-at", "-pk"):
        found.setdefault(row.room, row)
    return list(found.values())


def rooms_known() -> list[str]:
    return list(RoomAir.objects.order_by("room").values_list("room", flat=True).distinct())


def _room(name: str, lines: list[AirLine], units: str) -> Room:
    drawn = lines[:DRAWN][::-1]
    return Room(name, lines, _pictures(name, drawn, units) if len(drawn) > 1 else [])


def _pictures(name: str, drawn: list[AirLine], units: str) -> list[Chart]:
    """Humidity, the moisture that wood takes from it, and temperature, each on a scale of its own."""
    labels, now = [_when(line.row.at) for line in drawn], drawn[-1]
    unit = TEMPERATURE.unit(units)
    moist = [None if line.moisture is None else round(line.moisture, 1) for line in drawn]
    settles = "where it settles is not known" if moist[-1] is None else f"wood settles at {moist[-1]} %"
    runs = (
        ("humidity", f"Now {now.humidity}.", "%", "walnut", [line.row.rh_percent for line in drawn]),
        ("moisture of wood at rest", f"In this air {settles}.", "%", "spruce", moist),
        (
            "temperature",
            f"Now {now.temperature}.",
            unit.name,
            "steel",
            [round(unit.shown(line.row.temp_c), 1) for line in drawn],
        ),
    )
    return [
        charts.lines(
            title=f"{name}: {what}",
            description=said,
            labels=labels,
            series=[charts.Series(sign, values, material)],
            head="when",
        )
        for what, said, sign, material, values in runs
    ]


def _when(at: datetime) -> str:
    local = timezone.localtime(at)
    return f"{local.day} {local:%b}"
