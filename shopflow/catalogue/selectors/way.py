"""The way of an operation through the lines of state: what it needs of each, and where it brings it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from shopflow.catalogue.models import KeptPart, Operation, StateLine, StepLine, WorkSort

Facts = dict[str, Any]
WIDTH, EDGE = 320, 16


@dataclass(frozen=True, slots=True)
class Dot:
    """One level of a line in the picture; filled where the operation can be done."""

    x: int
    said: str
    fits: bool


@dataclass(frozen=True, slots=True)
class Arrow:
    """From one level to another: down on purpose, down by the way, or up."""

    x1: int
    x2: int
    kind: str

    @property
    def head(self) -> str:
        """The three corners of its point."""
        back = self.x2 + (8 if self.x2 < self.x1 else -8)
        return f"{self.x2},30 {back},25 {back},35"


@dataclass(frozen=True, slots=True)
class OnLine:
    """What one operation asks of a line and does to it: a small picture and the same in words."""

    line: StateLine
    dots: list[Dot]
    arrows: list[Arrow]
    words: list[str]


@dataclass(frozen=True, slots=True)
class Way:
    """One row for each line that the operation itself touches; and what all work of its sort needs."""

    rows: list[OnLine]
    like_all: str
    parts: list[str]
    steps: list[str]


def way_of(operation: Operation) -> Way:
    """Four queries: lines, sort of work, parts, steps."""
    state = operation.state or {}
    lines = list(StateLine.objects.all())
    rows = [row for line in lines if (row := _on_line(line, state))]
    sort = WorkSort.objects.filter(code=state.get("work", "")).first()
    common = [
        line.said(_split(sort.needs[line.code])[1]) for line in lines if sort and line.code in sort.needs
    ]
    like_all = f"Like all {sort.name}, it needs {', '.join(common)}." if sort and common else ""
    return Way(rows, like_all, parts_in_words(operation), steps_in_words(operation))


def _on_line(line: StateLine, state: Facts) -> OnLine | None:
    asked = state.get("needs", {}).get(line.code)
    verbs = {
        "opens": state.get("opens", {}).get(line.code),
        "spoils": state.get("spoils", {}).get(line.code),
        "leaves": state.get("leaves", {}).get(line.code),
    }
    if not asked and not any(verbs.values()):
        return None
    dots = [Dot(_x(line, level), line.said(level), _fits(line, asked, level)) for level in line.levels]
    ends = [(verb, _start(line, verb, asked), level) for verb, level in verbs.items() if level]
    arrows = [Arrow(_x(line, start), _x(line, level), verb) for verb, start, level in ends if start != level]
    return OnLine(line, dots, arrows, list(_words(line, asked, verbs)))


def _words(line: StateLine, asked: str | None, verbs: dict[str, str | None]) -> Iterator[str]:
    if asked:
        ask, level = _split(asked)
        yield f"needs {ask} {line.said(level)}"
    told = {"opens": "opens to", "spoils": "brings down by the way to", "leaves": "leaves"}
    for verb, words in told.items():
        if verbs[verb]:
            yield f"{words} {line.said(str(verbs[verb]))}"


def _split(asked: str) -> tuple[str, str]:
    ask = next((ask for ask in ("at most", "at least", "still") if asked.startswith(f"{ask} ")), "")
    return ask, asked[len(ask) + 1 :]


def _fits(line: StateLine, asked: str | None, level: str) -> bool:
    if not asked:
        return False
    ask, named = _split(asked)
    if named not in line.levels:
        return False
    here, there = line.levels.index(level), line.levels.index(named)
    return here <= there if ask == "at most" else here >= there


def _start(line: StateLine, verb: str, asked: str | None) -> str:
    """Where the arrow begins: what goes down from where it is found, what goes up from what is asked."""
    if verb != "leaves":
        return line.found if asked is None else str(line.levels[-1])
    level = _split(asked)[1] if asked else ""
    return level if level in line.levels else str(line.levels[0])


def _x(line: StateLine, level: str) -> int:
    place = line.levels.index(level) if level in line.levels else 0
    return EDGE + round(place * (WIDTH - 2 * EDGE) / max(len(line.levels) - 1, 1))


def parts_in_words(operation: Operation) -> list[str]:
    """What it keeps old and what it throws away."""
    state = operation.state or {}
    told = {"keeps": "works on", "renews": "throws away"}
    known = {part.code: str(part) for part in KeptPart.objects.all()}
    return [f"{told[verb]} {known.get(part, part)}" for verb in told for part in state.get(verb, ())]


def steps_in_words(operation: Operation) -> list[str]:
    """Its place among the steps of a part."""
    steps = (operation.state or {}).get("step", {})
    names = {order.code: order.name for order in StepLine.objects.all()}
    return [f"{names.get(code, code)}: {step}" for code, step in steps.items()]
