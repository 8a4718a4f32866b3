"""Bearing of the bridges, section by section, with the force on the board where the scale tells the pull."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shopflow.compute.bearing import angle_deg, down_force_n, net_angle_deg
from shopflow.compute.strings import kg_of, lb_of
from shopflow.instruments.models import Instrument
from shopflow.readings.models import BearingReading, Phase

from .scale import Reckoned, latest_scale, reckon

USUAL_SECTIONS = ("bass", "tenor", "treble", "high treble")


@dataclass(frozen=True, slots=True)
class Bearing:
    """What was read at one section in one phase; `pulls_n` of each string of the section, where known."""

    row: BearingReading
    pulls_n: tuple[float, ...]

    @property
    def front(self) -> float:
        return angle_deg(self.row.front_mm, self.row.front_over_mm)

    @property
    def back(self) -> float:
        return angle_deg(self.row.back_mm, self.row.back_over_mm)

    @property
    def net(self) -> float:
        return net_angle_deg(self.front, self.back)

    @property
    def down_n(self) -> float | None:
        """All strings of the section together; None where no scale tells their pull."""
        return sum(down_force_n(pull, self.net) for pull in self.pulls_n) if self.pulls_n else None

    @property
    def down_kg(self) -> float | None:
        return None if self.down_n is None else kg_of(self.down_n)

    @property
    def down_lb(self) -> float | None:
        return None if self.down_n is None else lb_of(self.down_n)


@dataclass(frozen=True, slots=True)
class Section:
    """One section of the bridges, before and after; `struck` are the readings that were read anew."""

    name: str
    before: Bearing | None
    after: Bearing | None
    strings: int


@dataclass(frozen=True, slots=True)
class Belly:
    """All sections of an instrument, and the scale whose tensions are taken."""

    sections: list[Section]
    scale: Reckoned | None
    earlier: list[Bearing]

    def total_n(self, phase: str) -> float | None:
        """The down-force of all sections read in a phase, where every one of them is known."""
        sides = [section.before if phase == Phase.BEFORE else section.after for section in self.sections]
        known = [side.down_n for side in sides if side is not None]
        forces = [each for each in known if each is not None]
        return sum(forces) if known and len(forces) == len(known) else None

    @property
    def before_n(self) -> float | None:
        return self.total_n(Phase.BEFORE)

    @property
    def after_n(self) -> float | None:
        return self.total_n(Phase.AFTER)


def belly_of(instrument: Instrument, units: str) -> Belly:
    """Three queries: the readings, the scales, the notes of one of them."""
    rows = list(instrument.bearings.select_related("by").order_by("pk"))
    found = latest_scale(instrument)
    scale = reckon(found, units) if found else None
    pulls = _pulls(scale)
    standing = [row for row in rows if row.struck_at is None]
    names = list(dict.fromkeys([*pulls, *(row.section for row in standing)])) or list(USUAL_SECTIONS)
    sections = [_section(name, standing, pulls) for name in names]
    earlier = [Bearing(row, ()) for row in rows if row.struck_at is not None]
    return Belly(sections, scale, earlier)


def bearings_alone(instrument: Instrument) -> dict[str, tuple[Bearing | None, Bearing | None]]:
    """Before and after by section, without the scale. One query."""
    rows = list(instrument.bearings.filter(struck_at=None).order_by("pk"))
    names = dict.fromkeys(row.section for row in rows)
    sections = [_section(name, rows, {}) for name in names]
    return {each.name: (each.before, each.after) for each in sections}


def _pulls(scale: Reckoned | None) -> dict[str, tuple[float, ...]]:
    """The pull of every string, by section."""
    pulls: dict[str, tuple[float, ...]] = {}
    for line in scale.lines if scale else []:
        name = line.row.section
        if name:
            pulls[name] = (*pulls.get(name, ()), *([line.figures.tension_n] * line.row.strings))
    return pulls


def _section(name: str, rows: list[BearingReading], pulls: Mapping[str, tuple[float, ...]]) -> Section:
    mine = {row.phase: Bearing(row, pulls.get(name, ())) for row in rows if row.section == name}
    after = mine.get(Phase.AFTER) or mine.get(Phase.DURING)
    return Section(name, mine.get(Phase.BEFORE), after, len(pulls.get(name, ())))
