"""Reads the passages of the ledger: how long each instrument was in the house, and what was finished when.

A count of finished instruments is always "finished" lines less "opened again" lines, each in the week in
which the server wrote it. So weeks add up to the year, and a week that is over never changes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo

from shopflow.compute.calendar import IsoWeek
from shopflow.workshop.models import Passage


@dataclass(frozen=True, slots=True)
class Line:
    """One passage, as the ledger holds it."""

    instrument_id: int
    kind: str
    on: date
    at: datetime


@dataclass(slots=True)
class Finish:
    """An instrument was finished; later perhaps opened again, and then it does not count any more."""

    instrument_id: int
    on: date
    at: datetime
    arrived_on: date | None
    reopened_at: datetime | None = None

    @property
    def days(self) -> int | None:
        """Lead time from arrival; None where the ledger knows no arrival before it."""
        if self.arrived_on is None or self.arrived_on > self.on:
            return None
        return (self.on - self.arrived_on).days


@dataclass(slots=True)
class Stay:
    """One stay in the house; an instrument that comes back begins another."""

    instrument_id: int
    arrived_on: date | None = None
    arrived_at: datetime | None = None
    finishes: list[Finish] = field(default_factory=list)
    left_on: date | None = None
    left_at: datetime | None = None

    @property
    def finish(self) -> Finish | None:
        """The finish that stands; None while there is work in hand."""
        last = self.finishes[-1] if self.finishes else None
        return last if last and last.reopened_at is None else None

    @property
    def is_in_house(self) -> bool:
        return self.arrived_at is not None and self.left_at is None

    @property
    def ended_on(self) -> date | None:
        """The day on which it was in hand no more: finished, or carried out unfinished."""
        return self.finish.on if self.finish else self.left_on


def read(lines: Iterable[Line]) -> list[Stay]:
    """The stays that these lines tell of; all lines of an instrument must be there, oldest first."""
    stays: list[Stay] = []
    present: dict[int, Stay] = {}
    for line in lines:
        stay = present.get(line.instrument_id)
        if stay is None or line.kind == Passage.Kind.RETURNED:
            stay = present[line.instrument_id] = Stay(line.instrument_id)
            stays.append(stay)
        _write(stay, line)
    return stays


def _write(stay: Stay, line: Line) -> None:
    if line.kind in {Passage.Kind.ARRIVED, Passage.Kind.RETURNED}:
        stay.arrived_on, stay.arrived_at = line.on, line.at
    elif line.kind == Passage.Kind.FINISHED:
        stay.finishes.append(Finish(line.instrument_id, line.on, line.at, stay.arrived_on))
    elif line.kind == Passage.Kind.REOPENED and stay.finish:
        stay.finish.reopened_at = line.at
    elif line.kind == Passage.Kind.LEFT:
        stay.left_on, stay.left_at = line.on, line.at


def finishes(stays: Iterable[Stay]) -> list[Finish]:
    """Every finish of these stays, oldest first, also those that were opened again."""
    return sorted((one for stay in stays for one in stay.finishes), key=lambda one: one.at)


def net_by_week(done: Iterable[Finish], zone: tzinfo) -> Counter[IsoWeek]:
    """Finished less opened again, in each week of the shop's clock."""
    counts: Counter[IsoWeek] = Counter()
    for one in done:
        counts[IsoWeek.at(one.at, zone)] += 1
        if one.reopened_at is not None:
            counts[IsoWeek.at(one.reopened_at, zone)] -= 1
    return counts


def days_in_hand(stays: Iterable[Stay], *, first: date, days: int) -> int:
    """Instrument-days of unfinished work in the house over some days from the first one."""
    start, end = first.toordinal(), first.toordinal() + days
    total = 0
    for stay in stays:
        if stay.arrived_on is not None:
            until = stay.ended_on.toordinal() if stay.ended_on else end
            total += max(0, min(until, end) - max(stay.arrived_on.toordinal(), start))
    return total
