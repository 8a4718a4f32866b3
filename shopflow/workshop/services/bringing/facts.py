"""Rows of one number become one instrument: its facts once, each row's task beside them."""

from __future__ import annotations

from datetime import date
from typing import Any

from shopflow.common import clock

from . import values
from .columns import FACTS, OF_TASK
from .days import Order, read_day
from .drafts import InstrumentDraft
from .heading import Heading, Line
from .house import House
from .problems import Problems
from .values import NotAllowed

EARLIEST_ARRIVAL = date(1950, 1, 1)
PROMISES = (date(2000, 1, 1), date(2099, 12, 31))
_TOLD = tuple(name for name in FACTS if name != "number")


class FactsReader:
    """Reads what rows tell of their instrument, and names what they tell differently."""

    def __init__(
        self, *, house: House, heading: Heading, orders: dict[str, Order | None], problems: Problems
    ) -> None:
        self.house, self.heading, self.orders, self.problems = house, heading, orders, problems
        self.nothing_new: list[int] = []

    def instruments(self, lines: list[Line]) -> list[tuple[InstrumentDraft, list[Line]]]:
        """Each instrument of the file, in order, with the rows that tell of it."""
        groups: dict[str, list[Line]] = {}
        written: dict[str, tuple[int, str]] = {}
        last = ""
        for line in lines:
            last = self._number_of(line, last, written)
            if last:
                groups.setdefault(last, []).append(line)
        return [(self._draft(written[key][1], group), group) for key, group in groups.items()]

    def _number_of(self, line: Line, last: str, written: dict[str, tuple[int, str]]) -> str:
        """The key of the row's instrument: its own number, or the one above where only a task is told."""
        typed = line.cells.get("number", "")
        if not typed:
            if last and not any(name in line.cells for name in FACTS):
                return last
            self._problem(
                line, "number", "nothing", "the number on the tag on every row that tells of an instrument"
            )
            return ""
        number = self._read(line, "number")
        if number is None:
            return ""
        key = number.casefold()
        first_line, first = written.setdefault(key, (line.line, number))
        if first != number:
            self._problem(
                line,
                "number",
                number,
                f"“{first}”, as on line {first_line}: capitals are the only difference",
            )
        return key

    def _draft(self, number: str, group: list[Line]) -> InstrumentDraft:
        draft = InstrumentDraft(line=group[0].line, number=number)
        told_on: dict[str, int] = {}
        for line in group:
            fresh = [self._take(draft, line, name, told_on) for name in _TOLD if name in line.cells]
            has_task = any(name in line.cells for name in OF_TASK)
            if line is not group[0] and not has_task and not any(fresh):
                self.nothing_new.append(line.line)
        self._check_whole(draft, group)
        return draft

    def _take(self, draft: InstrumentDraft, line: Line, name: str, told_on: dict[str, int]) -> bool:
        """Keep a fact, unless an earlier row has told it; True when it is new."""
        value = self._read(line, name)
        if value is None:
            if name in self.orders and name not in draft.asked:
                draft.asked[name] = line.cells[name]
            return False
        if name not in draft.facts:
            draft.facts[name], told_on[name] = value, line.line
            return True
        if draft.facts[name] != value:
            earlier = draft.facts[name]
            allowed = f"“{earlier}”, as line {told_on[name]} tells of {draft.number}; or another number"
            self._problem(line, name, line.cells[name], allowed)
        return False

    def _read(self, line: Line, name: str) -> Any:
        typed = line.cells[name]
        try:
            if name == "route":
                return self.house.route(typed)
            if name in self.orders:
                return self._day(name, typed)
            return values.read(name, typed)
        except NotAllowed as wrong:
            self._problem(line, name, typed, str(wrong))
            return None

    def _day(self, name: str, typed: str) -> date | None:
        least, most = PROMISES
        if name == "arrived_on":
            least, most = EARLIEST_ARRIVAL, clock.today()
        return read_day(typed, order=self.orders[name], least=least, most=most)

    def _check_whole(self, draft: InstrumentDraft, group: list[Line]) -> None:
        """What an instrument's facts must be together."""
        facts, first = draft.facts, group[0]
        told = {name for line in group for name in line.cells}
        if "kind" in self.heading.places and "kind" not in told:
            self._problem(first, "kind", "nothing", "upright or grand")
        if told & {"customer_email", "customer_phone"} and "customer" not in told:
            self._problem(first, "customer", "nothing", "whose e-mail address or telephone this is")
        draft.route = facts.get("route")
        if draft.route and "kind" in facts and draft.route.kind != facts["kind"]:
            allowed = f"a route for {facts['kind']}s; {draft.route.code} is for {draft.route.kind}s"
            self._problem(first, "route", draft.route.code, allowed)

    def _problem(self, line: Line, name: str, given: str, allowed: str) -> None:
        self.problems.add(line.line, self.heading.column(name), given, allowed)
