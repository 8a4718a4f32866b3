"""Presence: if all of these are in a job, one of those has to be. All of it follows from the lines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from shopflow.compute.errors import ComputeError
from shopflow.compute.worknet.model import Levels, Line, Work

Works = Mapping[str, Work]
Lines = Mapping[str, Line]


@dataclass(frozen=True, slots=True)
class Rule:
    """If all of `body` are in the job, one of `heads` must be, because of `why`; `line` says about what.

    `adds` are the heads that may be added to a job; the others are retired.
    """

    body: frozenset[str]
    heads: tuple[str, ...]
    why: str
    line: str = ""
    adds: tuple[str, ...] = ()

    def is_met_by(self, job: frozenset[str] | set[str]) -> bool:
        return not self.body <= job or any(head in job for head in self.heads)


def rules_for(works: Works, lines: Lines, start: Levels) -> list[Rule]:
    """All rules for a piano in this state, each once.

    Errors: ComputeError for an operation that can never be done, or never be closed up again.
    """
    found: dict[tuple[frozenset[str], tuple[str, ...]], Rule] = {}
    for rule in _all_rules(works, lines, start):
        adds = tuple(head for head in rule.heads if not works[head].retired)
        if not adds:
            if not any(works[code].retired for code in rule.body):
                _refuse(rule, works)
            continue
        if not rule.body.intersection(rule.heads):
            found.setdefault((rule.body, rule.heads), replace(rule, adds=adds))
    return list(found.values())


def _all_rules(works: Works, lines: Lines, start: Levels) -> Iterator[Rule]:
    for line in lines.values():
        if line.clears_itself:
            continue
        lifters = {level: _lifting(works, line, level) for level in range(line.top)}
        yield from _opening(works, line, start)
        if line.is_settled(start):
            continue
        yield from _leaving(line, start, lifters)
        yield from _closing(works, line, lifters)
        yield from _reaching(works, line, start, lifters)
        yield from _regaining(works, line, lifters)
    for work in works.values():
        for other in work.also:
            if other in works:
                why = f"“{works[other].name}” always goes with “{work.name}” here"
                yield Rule(frozenset({work.code}), (other,), why)


def _lifting(works: Works, line: Line, level: int) -> tuple[str, ...]:
    return tuple(work.code for work in works.values() if work.lifts(line.code, level))


def _opening(works: Works, line: Line, start: Levels) -> Iterator[Rule]:
    """What asks a line to be open needs what opens it."""
    for work in works.values():
        most = work.at_most.get(line.code)
        if most is not None and start[line.code] > most:
            openers = tuple(
                other.code
                for other in works.values()
                if other.opens.get(line.code, line.top + 1) <= most and other.code != work.code
            )
            why = f"“{work.name}” needs {line.say[most]}"
            yield Rule(frozenset({work.code}), openers, why, line.code)


def _leaving(line: Line, start: Levels, lifters: Mapping[int, tuple[str, ...]]) -> Iterator[Rule]:
    """Whatever stands below the goal has to be brought up before the piano leaves."""
    for level in range(start[line.code], line.goal):
        yield Rule(frozenset(), lifters[level], f"no piano leaves without {line.say[line.goal]}", line.code)


def _closing(works: Works, line: Line, lifters: Mapping[int, tuple[str, ...]]) -> Iterator[Rule]:
    """What is brought below the goal has to climb back, from every level on the way."""
    for work in works.values():
        lowered = work.lowers(line.code)
        if lowered is not None:
            why = f"after “{work.name}” no piano leaves without {line.say[line.goal]}"
            for level in range(lowered, line.goal):
                yield Rule(frozenset({work.code}), lifters[level], why, line.code)


def _reaching(
    works: Works, line: Line, start: Levels, lifters: Mapping[int, tuple[str, ...]]
) -> Iterator[Rule]:
    """What asks more of a line than the piano has needs what brings it there."""
    for work in works.values():
        least = work.at_least.get(line.code, 0)
        for level in range(start[line.code], least):
            yield Rule(
                frozenset({work.code}),
                tuple(code for code in lifters[level] if code != work.code),
                f"“{work.name}” needs {line.say[least]}",
                line.code,
            )


def _regaining(works: Works, line: Line, lifters: Mapping[int, tuple[str, ...]]) -> Iterator[Rule]:
    """What asks more of a line than its goal, beside something that lowers it, needs what brings it back."""
    demanding = [work for work in works.values() if work.at_least.get(line.code, 0) > line.goal]
    for work in demanding:
        least = work.at_least[line.code]
        for other in works.values():
            lowered = other.lowers(line.code)
            if lowered is None or lowered >= least or other.code == work.code:
                continue
            why = f"“{work.name}” needs {line.say[least]}, also after “{other.name}”"
            for level in range(max(lowered, line.goal), least):
                heads = tuple(code for code in lifters[level] if code != work.code)
                yield Rule(frozenset({work.code, other.code}), heads, why, line.code)


def _refuse(rule: Rule, works: Works) -> None:
    names = " and ".join(sorted(f"“{works[code].name}”" for code in rule.body)) or "every job"
    raise ComputeError(
        f"work of {names}",
        f"{rule.why}, and no operation brings that about",
        "work that can be done and closed",
    )


def unmet(rules: Iterable[Rule], job: Iterable[str]) -> list[Rule]:
    """The rules that this job does not keep."""
    present = frozenset(job)
    return [rule for rule in rules if not rule.is_met_by(present)]
