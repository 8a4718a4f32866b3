"""From plain data to lines and operations of one kind of piano; whatever makes no sense is named."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, one_of, some
from shopflow.compute.worknet.model import Levels, Line, Work

ASKS = ("at most", "at least", "still")
MOST_ROWS = 2_000


def read_lines(data: Mapping[str, Any]) -> dict[str, Line]:
    """The lines of state by their codes."""
    return {code: _line(code, row) for code, row in _rows(data, "lines").items()}


def _line(code: str, row: Mapping[str, Any]) -> Line:
    levels = tuple(map(str, some(f"levels of {code}", row.get("levels") or (), at_least=2)))
    if len(set(levels)) < len(levels):
        raise ComputeError(f"levels of {code}", levels, "levels that differ from each other")
    say = tuple(str(phrase) for phrase in row.get("say") or levels)
    if len(say) != len(levels):
        raise ComputeError(f"phrases of {code}", say, f"one phrase for each of {len(levels)} levels")
    found = levels.index(one_of(f"found of {code}", str(row.get("found")), levels))
    goal = levels.index(one_of(f"goal of {code}", str(row.get("goal") or levels[0]), levels))
    flags = {flag: bool(row.get(flag)) for flag in ("place", "stays_at_top", "clears_itself", "by_part")}
    return Line(code, str(row.get("name") or code), levels, found, goal, say, **flags)


def read_steps(data: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """The lines of steps: each part's steps from first to last."""
    steps = {code: tuple(map(str, row)) for code, row in _rows(data, "steps", empty=True).items()}
    for code, row in steps.items():
        if len(set(row)) < len(row):
            raise ComputeError(f"steps of {code}", row, "steps that differ from each other")
    return steps


def read_parts(data: Mapping[str, Any]) -> dict[str, frozenset[str]]:
    """What goes with a part when it is renewed, through all links."""
    direct = {code: set(map(str, row)) for code, row in _rows(data, "parts", empty=True).items()}
    return {code: frozenset(_reached(code, direct)) for code in direct}


def _reached(start: str, direct: Mapping[str, set[str]]) -> set[str]:
    reached, waiting = {start}, [start]
    while waiting:
        for part in direct.get(waiting.pop(), ()):
            if part not in reached:
                reached.add(part)
                waiting.append(part)
    return reached


class OperationReader:
    """Reads the operations of one kind: common needs taken over, what differs by kind put in place."""

    def __init__(self, data: Mapping[str, Any], kind: str, lines: Mapping[str, Line]) -> None:
        self.data, self.kind, self.lines = data, kind, lines
        self.steps, self.parts = read_steps(data), read_parts(data)
        self.known = set(_rows(data, "operations"))

    def read(self) -> dict[str, Work]:
        """Those that are done on this kind of piano, by their codes."""
        rows = _rows(self.data, "operations").items()
        return {code: self._work(code, row) for code, row in rows if row.get(self.kind)}

    def _work(self, code: str, given: Mapping[str, Any]) -> Work:
        row = {**given, **(given.get("by_kind") or {}).get(self.kind, {})}
        common = self._common(code, row)
        asks = self._asks(code, {**(common.get("needs") or {}), **(row.get("needs") or {})})
        holds = row.get("at") or ()
        holds = holds.get(self.kind, ()) if isinstance(holds, Mapping) else holds
        renews = {part for each in row.get("renews") or () for part in self.parts.get(each, {each})}
        rest, rest_as = str(row.get("rest") or ""), dict(row.get("rest_as") or {})
        return Work(
            code=code,
            name=str(row.get("name") or code),
            cost=self._cost(code, row),
            holds=frozenset(map(str, holds)),
            at_most=asks["at most"],
            at_least=asks["at least"],
            still=asks["still"],
            opens=self._levels(code, "opens", row),
            spoils={**self._levels(code, "spoils", common), **self._levels(code, "spoils", row)},
            leaves=self._levels(code, "leaves", row),
            lifts_from=self._levels(code, "lifts_from", row),
            keeps=frozenset(row.get("keeps") or ()),
            renews=frozenset(renews),
            covers=self._codes(code, "covers", row),
            serves_for=self._codes(code, "serves_for", row),
            each=bool(row.get("each")),
            instead=str(row.get("instead") or ""),
            step=self._step(code, row.get("step") or {}),
            rest=rest,
            rest_hours=self.rest_hours(code, rest),
            rest_as=rest_as,
            rest_as_hours={other: self.rest_hours(code, name) for other, name in rest_as.items()},
            rest_holds=bool(row.get("rest_holds")),
            halves={part: float(share) for part, share in (row.get("halves") or {}).items()},
            also=tuple(sorted(self._codes(code, "also", row))),
            after=tuple(sorted(self._codes(code, "after", row))),
            in_every_job=bool(row.get("in_every_job")),
            retired=bool(row.get("retired")),
        )

    def _common(self, code: str, row: Mapping[str, Any]) -> Mapping[str, Any]:
        sorts = self.data.get("common") or {}
        sort = row.get("work")
        return sorts[one_of(f"work of {code}", sort, tuple(sorts))] if sort and sorts else {}

    def _asks(self, code: str, needs: Mapping[str, Any]) -> dict[str, Levels]:
        asks: dict[str, dict[str, int]] = {word: {} for word in ASKS}
        for line, given in needs.items():
            word = next((word for word in ASKS if str(given).startswith(f"{word} ")), "")
            one_of(f"what {code} needs of {line}", word or given, ASKS)
            asks[word][line] = self._level(code, line, str(given)[len(word) + 1 :])
        return dict(asks)

    def _levels(self, code: str, field: str, row: Mapping[str, Any]) -> Levels:
        return {line: self._level(code, line, str(level)) for line, level in (row.get(field) or {}).items()}

    def _level(self, code: str, line: str, level: str) -> int:
        one_of(f"line of “{code}”", line, tuple(self.lines))
        return self.lines[line].levels.index(
            one_of(f"level of “{line}” in “{code}”", level, self.lines[line].levels)
        )

    def _codes(self, code: str, field: str, row: Mapping[str, Any]) -> frozenset[str]:
        """Operations named by another; also such as are not done on this kind of piano."""
        for other in row.get(field) or ():
            if other not in self.known:
                raise ComputeError(f"{field} of {code}", other, "the code of an operation")
        return frozenset(row.get(field) or ())

    def _step(self, code: str, given: Mapping[str, Any]) -> dict[str, str]:
        for line, step in given.items():
            one_of(f"line of steps of “{code}”", line, tuple(self.steps))
            one_of(f"step of “{code}” on “{line}”", step, self.steps[line])
        return dict(given)

    def rest_hours(self, code: str, rest: str) -> float:
        """The likely hours of a rest; none for no rest."""
        rests = self.data.get("rests") or {}
        return number(f"rest of {code}", rests[one_of(f"rest of {code}", rest, rests)][1]) if rest else 0.0

    def _cost(self, code: str, row: Mapping[str, Any]) -> float:
        """Likely hours by the department's rate, with materials and outside work; without rates, hours."""
        hours = number(f"hours of {code}", row[self.kind][1], at_least=0)
        rate = float((self.data.get("rates") or {}).get(row.get("department"), 0)) or 1.0
        materials = float((self.data.get("materials") or {}).get(row.get("materials"), 0))
        return hours * rate + materials + float(row.get("outside_cost") or 0)


def _rows(data: Mapping[str, Any], field: str, *, empty: bool = False) -> Mapping[str, Any]:
    rows = data.get(field)
    if rows is None and empty:
        return {}
    if not isinstance(rows, Mapping) or len(rows) > MOST_ROWS:
        raise ComputeError(field, rows, f"rows by their codes, at most {MOST_ROWS:,}")
    return rows


def known_codes(field: str, given: Iterable[str], known: Iterable[str]) -> list[str]:
    """The codes given, each of them known; ComputeError names the first that is not."""
    allowed = set(known)
    codes = [str(code) for code in ([given] if isinstance(given, str) else given)]
    for code in codes:
        if code not in allowed:
            raise ComputeError(field, code, "the code of an operation that is done on this kind of piano")
    return codes
