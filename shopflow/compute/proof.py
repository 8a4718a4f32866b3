"""What the signed work of one stay proves of a piano: what holds, what was renewed, what later work undid.

Pure: it takes the operations in the order of their signatures and what is known of them. Work that nothing is
known of (a shop's own, in its own words) proves that it was signed and no more.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from shopflow.compute.worknet import Knowledge
from shopflow.compute.worknet.model import Work

EVERY_STEP = "*"


@dataclass(frozen=True, slots=True)
class Gap:
    """One operation of a remedy for which nothing stands: never signed, undone later, or done too early."""

    code: str
    is_signed: bool = False
    undone_by: str = ""


@dataclass(frozen=True, slots=True)
class Claim:
    """A line of state that was raised in this stay and not lowered since, with the operation that did it."""

    line: str
    level: str
    code: str
    place: int


@dataclass(frozen=True, slots=True)
class Reads:
    """What a reading depends on: lines of state, parts that are worked on or renewed, steps within a part."""

    lines: frozenset[str] = frozenset()
    parts: frozenset[str] = frozenset()
    steps: Mapping[str, frozenset[str]] | None = None

    def is_changed_by(self, work: Work) -> bool:
        """Whether a reading from before this work says nothing about the piano after it."""
        if self.lines & {*work.opens, *work.spoils, *work.leaves} or self.parts & (work.keeps | work.renews):
            return True
        steps = self.steps or {}
        return any(
            EVERY_STEP in steps[line] or step in steps[line]
            for line, step in work.step.items()
            if line in steps
        )


class Proof:
    """The signed work of one stay, replayed; `done` in the order of the ledger."""

    def __init__(self, knowledge: Knowledge, done: Iterable[str]) -> None:
        self.knowledge = knowledge
        self.done = tuple(done)
        self.known = tuple(code for code in self.done if code in knowledge.codes)

    @cached_property
    def states(self) -> list[dict[str, int]]:
        """The state before the first signature, after it, after the second, and so on."""
        told = [{code: line.found for code, line in self.knowledge.lines.items()}]
        for code in self.done:
            work = self.work(code)
            told.append(work.after_it(told[-1]) if work else told[-1])
        return told

    def work(self, code: str) -> Work | None:
        return self.knowledge.work(code) if code in self.knowledge.codes else None

    @cached_property
    def renewed(self) -> frozenset[str]:
        """The parts of which the old ones were really taken out and new ones put in."""
        works = filter(None, map(self.work, self.known))
        return frozenset(part for work in works for part in work.renews)

    @cached_property
    def claims(self) -> dict[str, Claim]:
        """What may be said of each line; of any other line nothing may."""
        found = self.knowledge.claims(self.known)
        return {
            line: Claim(line, level, code, self._last(code)) for line, (level, code) in sorted(found.items())
        }

    def has_signed(self, *codes: str) -> bool:
        return not set(self.done).isdisjoint(codes)

    def gaps(self, remedy: Collection[str]) -> list[Gap]:
        """The operations of a remedy that neither hold themselves nor are made needless by what holds."""
        return [self._gap(code) for code in sorted(remedy) if not self.answering(code)]

    def answering(self, code: str) -> list[str]:
        """What was signed and still holds of this operation and of all that makes it needless."""
        wanted = {code, *(self.knowledge.instead_of(code) if code in self.knowledge.codes else ())}
        held = (
            other
            for place, other in enumerate(self.done)
            if other in wanted and self.undone_by(place) is None
        )
        return list(dict.fromkeys(held))

    def is_whole(self, code: str) -> bool:
        """Whether what stands for it concerns the whole piano: a part renewed or a line raised.

        A filled crack says nothing of the next one; new strings are new wherever the old ones were poor.
        """
        works = [work for work in map(self.work, self.answering(code)) if work]
        return any((work.renews or work.leaves) and not work.each for work in works)

    def undone_by(self, place: int) -> str | None:
        """The later work that undid the one at this place; None where it holds, "" where it never held."""
        work = self.work(self.done[place])
        if work is None:
            return None
        for line, level in work.leaves.items():
            if self.states[place + 1][line] < level:
                return ""
            if self.states[-1][line] < level:
                return self._who_lowered(line, level, since=place + 1)
        return None

    def last_that_changed(self, reads: Reads) -> int | None:
        """The place of the last work that changed what is read; None where none did."""
        places = [place for place, code in enumerate(self.done) if self._changes(code, reads)]
        return places[-1] if places else None

    def _changes(self, code: str, reads: Reads) -> bool:
        work = self.work(code)
        return work is not None and reads.is_changed_by(work)

    def _gap(self, code: str) -> Gap:
        places = [place for place, other in enumerate(self.done) if other == code]
        if not places:
            return Gap(code)
        return Gap(code, is_signed=True, undone_by=self.undone_by(places[-1]) or "")

    def _who_lowered(self, line: str, level: int, *, since: int) -> str:
        """The last work that brought the line below the level, from where it was not below."""
        lowered = [
            self.done[place]
            for place in range(since, len(self.done))
            if self.states[place + 1][line] < level <= self.states[place][line]
        ]
        return lowered[-1]

    def _last(self, code: str) -> int:
        return len(self.done) - 1 - self.done[::-1].index(code)
