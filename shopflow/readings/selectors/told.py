"""What strings, keys and bridges show before and after, in lines for the report that goes home."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from shopflow.instruments.models import Instrument
from shopflow.readings.models import Phase

from .bearing import Bearing, bearings_alone
from .touch import Key, Weighed, regulated, weighed


class Read(Protocol):
    """A row of any of these readings."""

    @property
    def phase(self) -> str: ...
    @property
    def at(self) -> datetime: ...


@dataclass(frozen=True, slots=True)
class From:
    """From when each sort of reading counts; None: always. `stay` is for those before the work."""

    stay: datetime | None = None
    weights: datetime | None = None
    regulated: datetime | None = None
    bearing: datetime | None = None

    def is_before(self, row: Read | None) -> bool:
        return row is not None and (self.stay is None or row.at >= self.stay)


def lines_for_report(instrument: Instrument, since: From | None = None) -> list[dict[str, str]]:
    """A line for each of them that was read after the work and still says something. Four queries."""
    since = since or From()
    return [*_keys(instrument, since), *_regulated(instrument, since), *_bearing(instrument, since)]


def _says(row: Read | None, since: datetime | None) -> bool:
    return row is not None and row.phase == Phase.AFTER and (since is None or row.at >= since)


def _line(name: str, place: str, before: str, after: str, usual: str) -> dict[str, str]:
    return {"name": name, "place": place, "before": before, "after": after, "usual": usual}


def _keys(instrument: Instrument, since: From) -> list[dict[str, str]]:
    found = weighed(instrument)
    before = _only(
        found[Phase.BEFORE], [one for one in found[Phase.BEFORE].keys.values() if since.is_before(one.row)]
    )
    after = _only(
        found[Phase.AFTER], [one for one in found[Phase.AFTER].keys.values() if _says(one.row, since.weights)]
    )
    if after.is_empty:
        return []
    place = f"mean of {len(after.keys)} keys"
    return [
        _line(name, place, _grams(before, what), _grams(after, what), usual)
        for name, what, usual in (
            ("Balance weight", "balance", "38 to 40 g"),
            ("Friction of the keys", "friction", "10 to 15 g"),
        )
    ]


def _only(whole: Weighed, keys: list[Key]) -> Weighed:
    return Weighed(whole.phase, {key.note: key for key in keys}, [])


def _grams(weighed: Weighed, what: str) -> str:
    mean = weighed.mean_of(what)
    return "–" if mean is None else f"{mean:.1f} g"


def _regulated(instrument: Instrument, since: From) -> list[dict[str, str]]:
    lines = []
    for each in regulated(instrument):
        rows = [(sample.before, sample.after) for sample in each.samples]
        after = [row.read_mm for _, row in rows if row and _says(row, since.regulated)]
        before = [row.read_mm for row, _ in rows if row and since.is_before(row)]
        if after:
            value = each.value
            aims = f"{value.bass_mm:g}"
            aims += f" to {value.treble_mm:g}" if value.treble_mm != value.bass_mm else ""
            place = f"{len(after)} sample notes"
            usual = f"aim {aims} mm ± {value.tolerance_mm:g}"
            lines.append(_line(value.name, place, _span(before), _span(after), usual))
    return lines


def _span(values: list[float]) -> str:
    if not values:
        return "–"
    low, high = min(values), max(values)
    return f"{low:.2f} mm" if low == high else f"{low:.2f} to {high:.2f} mm"


def _bearing(instrument: Instrument, since: From) -> list[dict[str, str]]:
    """Net bearing by section; no usual figure, for nobody gives a pass mark."""
    by_section = bearings_alone(instrument)
    return [
        _line(
            "Bearing, net",
            name,
            _degrees(before if before and since.is_before(before.row) else None),
            _degrees(after),
            "",
        )
        for name, (before, after) in by_section.items()
        if after and _says(after.row, since.bearing)
    ]


def _degrees(read: Bearing | None) -> str:
    return f"{read.net:.2f}°" if read else "–"
