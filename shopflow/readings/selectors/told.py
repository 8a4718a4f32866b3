"""What strings, keys and bridges show before and after, in lines for the report that goes home."""

from __future__ import annotations

from shopflow.instruments.models import Instrument
from shopflow.readings.models import Phase

from .bearing import bearings_alone
from .touch import Weighed, regulated, weighed


def lines_for_report(instrument: Instrument) -> list[dict[str, str]]:
    """A line for each of them that was read after the work. Four queries."""
    return [*_keys(instrument), *_regulated(instrument), *_bearing(instrument)]


def _line(name: str, place: str, before: str, after: str, usual: str) -> dict[str, str]:
    return {"name": name, "place": place, "before": before, "after": after, "usual": usual}


def _keys(instrument: Instrument) -> list[dict[str, str]]:
    found = weighed(instrument)
    before, after = found[Phase.BEFORE], found[Phase.AFTER]
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


def _grams(weighed: Weighed, what: str) -> str:
    mean = weighed.mean_of(what)
    return "–" if mean is None else f"{mean:.1f} g"


def _regulated(instrument: Instrument) -> list[dict[str, str]]:
    lines = []
    for each in regulated(instrument):
        after = [sample.after.read_mm for sample in each.samples if sample.after]
        before = [sample.before.read_mm for sample in each.samples if sample.before]
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


def _bearing(instrument: Instrument) -> list[dict[str, str]]:
    """Net bearing by section; no usual figure, for nobody gives a pass mark."""
    by_section = bearings_alone(instrument)
    return [
        _line("Bearing, net", name, f"{before.net:.2f}°" if before else "–", f"{after.net:.2f}°", "")
        for name, (before, after) in by_section.items()
        if after
    ]
