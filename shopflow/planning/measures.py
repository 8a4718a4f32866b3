"""What a manager can try on paper: lending a hand, extra hours, holding back or letting go, as plain data."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, ClassVar


@dataclass(frozen=True, slots=True)
class LendAHand:
    """A person works in another department for a time."""

    person: int
    department: int
    first_day: date
    last_day: date

    kind: ClassVar[str] = "loan"

    def covers(self, day: date) -> bool:
        return self.first_day <= day <= self.last_day


@dataclass(frozen=True, slots=True)
class WorkMore:
    """A person works more hours on each of their working days for a time."""

    person: int
    hours_a_day: float
    first_day: date
    last_day: date

    kind: ClassVar[str] = "extra"

    def covers(self, day: date) -> bool:
        return self.first_day <= day <= self.last_day


@dataclass(frozen=True, slots=True)
class HoldBack:
    """Nothing new of an instrument is begun before a day."""

    instrument: int
    until: date

    kind: ClassVar[str] = "hold"


@dataclass(frozen=True, slots=True)
class LetGoOn:
    """An instrument that was held back goes on."""

    instrument: int

    kind: ClassVar[str] = "release"


Measure = LendAHand | WorkMore | HoldBack | LetGoOn
_KINDS: dict[str, type[Measure]] = {one.kind: one for one in (LendAHand, WorkMore, HoldBack, LetGoOn)}
_DAYS = ("first_day", "last_day", "until")


def to_data(measures: Iterable[Measure]) -> list[dict[str, Any]]:
    """As kept with a draft: plain JSON.

    >>> to_data([HoldBack(7, date(2026, 3, 2))])
    [{'kind': 'hold', 'instrument': 7, 'until': '2026-03-02'}]
    """
    return [
        {"kind": one.kind}
        | {name: v.isoformat() if isinstance(v, date) else v for name, v in asdict(one).items()}
        for one in measures
    ]


def from_data(data: Iterable[dict[str, Any]]) -> list[Measure]:
    """Back from what was kept.

    >>> from_data([{'kind': 'hold', 'instrument': 7, 'until': '2026-03-02'}])
    [HoldBack(instrument=7, until=datetime.date(2026, 3, 2))]
    """
    return [_one(dict(row)) for row in data]


def _one(row: dict[str, Any]) -> Measure:
    made = _KINDS[row.pop("kind")]
    told: dict[str, Any] = {n: date.fromisoformat(v) if n in _DAYS else v for n, v in row.items()}
    return made(**told)
