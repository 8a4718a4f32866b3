"""A piano played step by step, to judge jobs from outside: it shares no code with `compute/worknet`.

It reads the plain data in words, signs the work of a job in any order that its ties allow, and writes down
every step at which the piano was not as the work asks, every piece of work undone, and every goal missed.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from typing import Any


class StepMachine:
    """One kind of piano, as the data describes it."""

    def __init__(self, data: Mapping[str, Any], kind: str) -> None:
        self.lines = data["lines"]
        self.steps = data["steps"]
        self.by_part = {*data["steps_by_part"], *(c for c, line in self.lines.items() if line.get("by_part"))}
        self.common = data["common"]
        self.works = {
            code: {**row, **row.get("by_kind", {}).get(kind, {})}
            for code, row in data["operations"].items()
            if row.get(kind)
        }
        for work in self.works.values():
            places = work.get("at", [])
            work["at"] = set(places[kind] if isinstance(places, dict) else places)

    def needs(self, code: str) -> dict[str, str]:
        work = self.works[code]
        return {**self.common.get(work.get("work"), {}).get("needs", {}), **work.get("needs", {})}

    def spoils(self, code: str) -> dict[str, str]:
        work = self.works[code]
        return {**self.common.get(work.get("work"), {}).get("spoils", {}), **work.get("spoils", {})}

    def found(self) -> dict[str, str]:
        return {code: line["found"] for code, line in self.lines.items()}

    def rank(self, line: str, level: str) -> int:
        rank: int = self.lines[line]["levels"].index(level)
        return rank

    def below(self, line: str, level: str, other: str) -> bool:
        return self.rank(line, level) < self.rank(line, other)

    def sign(self, code: str, state: Mapping[str, str]) -> dict[str, str]:
        """The piano after this work."""
        now, work = dict(state), self.works[code]
        for effect in (self.spoils(code), work.get("opens", {})):
            for line, level in effect.items():
                stays = self.lines[line].get("stays_at_top") and now[line] == self.lines[line]["levels"][-1]
                if self.below(line, level, now[line]) and not stays:
                    now[line] = level
        for line, level in work.get("leaves", {}).items():
            asked = self.needs(code).get(line, "")
            least = asked.removeprefix("at least ") if asked.startswith("at least ") else None
            least = work.get("lifts_from", {}).get(line, least)
            reached = least is None or not self.below(line, now[line], least)
            if reached and self.below(line, now[line], level):
                now[line] = level
        return now

    def play(
        self, line_up: Iterable[str], state: Mapping[str, str] | None = None, *, dips: bool = False
    ) -> list[str]:
        """Sign these in this order; what was wrong on the way and at the end, in words.

        Where the piano may be opened more than once (`dips`), work is undone and steps come again with good
        reason: then only the levels on the way and at the end are looked at.
        """
        now = dict(state or self.found())
        left, wrong, raised = list(line_up), list[str](), dict[str, str]()
        while left:
            code = left.pop(0)
            wrong += self._asked(code, now, [] if dips else left)
            wrong += [] if dips else self._steps(code, left)
            after = self.sign(code, now)
            for line in self.lines:
                if self.below(line, after[line], now[line]) and line in raised and not dips:
                    wrong.append(f"{code} undoes {line} {now[line]} of {raised.pop(line)}")
                elif self.below(line, now[line], after[line]):
                    raised[line] = code
            now = after
        for line, facts in self.lines.items():
            if not facts.get("clears_itself") and self.below(line, now[line], facts["goal"]):
                wrong.append(f"{line} ends {now[line]}")
        return wrong

    def _asked(self, code: str, now: Mapping[str, str], left: Iterable[str]) -> list[str]:
        wrong = []
        for line, need in self.needs(code).items():
            word = next(word for word in ("at most", "at least", "still") if need.startswith(word))
            level = need.removeprefix(f"{word} ")
            if self.lines[line].get("clears_itself"):
                wrong += [
                    f"{code} needs {line} {level}, {other} is to come"
                    for other in left
                    if self.spoils(other).get(line, level) != level and self._meet(line, code, other)
                ]
                continue
            low, high = (level, now[line]) if word == "at most" else (now[line], level)
            if self.below(line, low, high):
                wrong.append(f"{code} needs {line} {need}, it is {now[line]}")
        return wrong

    def _steps(self, code: str, left: Iterable[str]) -> list[str]:
        wrong = []
        for line, step in self.works[code].get("step", {}).items():
            place = self.steps[line].index(step)
            for other in left:
                earlier = self.works[other].get("step", {}).get(line)
                if earlier and self.steps[line].index(earlier) < place and self._meet(line, code, other):
                    wrong.append(f"{code} before {other} on {line}")
        return wrong

    def _meet(self, line: str, code: str, other: str) -> bool:
        return line not in self.by_part or bool(self.works[code]["at"] & self.works[other]["at"])

    def contradictions(self, job: Iterable[str], parts: Mapping[str, Iterable[str]]) -> list[str]:
        """Pairs that work on an old part and throw it away, or do the same in two ways."""
        found, codes = list[str](), sorted(job)
        for place, code in enumerate(codes):
            for other in codes[place + 1 :]:
                a, b = self.works[code], self.works[other]
                one_way = a.get("instead") and a.get("instead") == b.get("instead")
                if one_way or (not (a.get("each") or b.get("each")) and self._old_and_new(a, b, parts)):
                    found.append(f"{code} and {other}")
        return found

    def _old_and_new(
        self, a: Mapping[str, Any], b: Mapping[str, Any], parts: Mapping[str, Iterable[str]]
    ) -> bool:
        for old, new in ((a, b), (b, a)):
            gone = set(new.get("renews", ()))
            while more := {p for part in gone for p in parts.get(part, ())} - gone:
                gone |= more
            if gone & set(old.get("keeps", ())):
                return True
        return False


def any_order(job: Iterable[str], ties: Iterable[tuple[str, str]], dice: random.Random) -> list[str]:
    """The job in one order that its ties allow: by chance, with one piece of work as late as can be."""
    waiting: dict[str, set[str]] = {code: set() for code in job}
    for before, after in ties:
        waiting[after].add(before)
    awkward = dice.choice(sorted(waiting)) if waiting else ""
    line_up: list[str] = []
    while waiting:
        ready = sorted(code for code, needs in waiting.items() if not needs)
        ready = [code for code in ready if code != awkward] or ready
        code = dice.choice(ready)
        line_up.append(code)
        del waiting[code]
        for needs in waiting.values():
            needs.discard(code)
    return line_up
