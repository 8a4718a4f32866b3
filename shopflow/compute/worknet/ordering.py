"""Which work comes before which: a comparison of levels, the steps in a part, and the shop's own wishes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from shopflow.compute.network import order as in_line
from shopflow.compute.network import without_shortcuts
from shopflow.compute.worknet.model import Levels, Line, Work

# A rest of the pitch delays only what concerns the tuning or the strings: an action goes in meanwhile.
PITCH_RESTS = frozenset({"pitch", "pitch-visit"})
PITCH_LINES = frozenset({"tuning", "seated", "strings", "back"})
WISH = "the shop's own wish"


class Tie(NamedTuple):
    """`before` is signed, and has rested for `lag_hours`, before `after` may begin, because of `reason`."""

    before: str
    after: str
    lag_hours: float
    reason: str


@dataclass(frozen=True, slots=True)
class _Claim:
    """That one work comes before another: by which kind of comparison, on which line, in which words."""

    rank: int
    before: str
    after: str
    line: str
    reason: str


class Orderer:
    """Orders a job from a state of the piano; every two operations by the first comparison that applies."""

    def __init__(
        self,
        works: Mapping[str, Work],
        lines: Mapping[str, Line],
        steps: Mapping[str, tuple[str, ...]],
        steps_by_part: Iterable[str],
    ) -> None:
        self.works, self.lines, self.steps = works, lines, steps
        self.by_part = frozenset(steps_by_part) | {code for code, line in lines.items() if line.by_part}

    def pairs(self, job: Iterable[str], start: Levels) -> dict[tuple[str, str], _Claim]:
        """Every ordered pair of this job with its first reason, none left out."""
        return self.pairs_of([self.works[code] for code in sorted(set(job))], start)

    def pairs_of(self, works: Sequence[Work], start: Levels) -> dict[tuple[str, str], _Claim]:
        first: dict[frozenset[str], _Claim] = {}
        for claim in self._claims(works, start):
            pair = frozenset((claim.before, claim.after))
            if pair not in first or claim.rank < first[pair].rank:
                first[pair] = claim
        return {(claim.before, claim.after): claim for claim in first.values()}

    def contradictions(self, works: Iterable[Work], start: Levels) -> list[tuple[str, str]]:
        """The pairs that would each have to come before the other, by comparisons of the same kind."""
        claimed: dict[frozenset[str], dict[int, set[str]]] = {}
        for claim in self._claims(list(works), start):
            ranks = claimed.setdefault(frozenset((claim.before, claim.after)), {})
            ranks.setdefault(claim.rank, set()).add(claim.before)
        return [
            (first, second)
            for pair, ranks in claimed.items()
            if len(ranks[min(ranks)]) > 1
            for first, second in [sorted(pair)]
        ]

    def ties(self, job: Iterable[str], start: Levels) -> tuple[Tie, ...]:
        """The pairs that no longer chain says already, each with its lag; ComputeError names a circle."""
        works = {code: self.works[code] for code in sorted(set(job))}
        return self.ties_of(works, start)

    def ties_of(self, works: Mapping[str, Work], start: Levels) -> tuple[Tie, ...]:
        pairs = self.pairs_of(list(works.values()), start)
        in_line(list(pairs), jobs=works)
        kept = without_shortcuts(pairs)
        return tuple(self._tie(pairs[pair], works) for pair in sorted(kept))

    def _tie(self, claim: _Claim, works: Mapping[str, Work]) -> Tie:
        lag = self.lag_hours(works[claim.before], claim.line, works)
        return Tie(claim.before, claim.after, lag, claim.reason)

    def lag_hours(self, before: Work, line: str, job: Mapping[str, Work]) -> float:
        """The rest of the earlier work as far as it concerns this line; last coats rest as the build does."""
        if before.rest in PITCH_RESTS and line not in PITCH_LINES:
            return 0.0
        as_others = [
            other.rest_hours
            for code in before.rest_as
            for other in (job.get(code),)
            if other is not None and other.rest_hours
        ]
        return max(as_others, default=before.rest_hours)

    def _claims(self, works: Sequence[Work], start: Levels) -> Iterator[_Claim]:
        for line in self.lines.values():
            if not line.is_settled(start):
                yield from self._on_line(line, works, start)
        for code, steps in self.steps.items():
            yield from self._in_steps(code, steps, works)
        present = {work.code for work in works}
        for work in works:
            for earlier in work.after:
                if earlier in present:
                    yield _Claim(8, earlier, work.code, "", WISH)

    def _on_line(self, line: Line, works: Sequence[Work], start: Levels) -> Iterator[_Claim]:
        code = line.code
        lowering = [(work, level) for work in works if (level := work.lowers(code)) is not None]
        raising = [work for work in works if code in work.leaves]
        lowest = min([start[code], *(level for _, level in lowering)])
        for claim in (
            *self._opened_first(line, works, start),
            *self._open_then_close(line, works, raising),
            *self._raised_first(line, works, raising, lowest),
            *self._spoilt_first(line, works, lowering),
            *self._as_found_first(line, works, lowering),
            *self._never_undone(line, lowering, raising),
        ):
            if claim.before != claim.after and self._meet(code, claim):
                yield claim

    def _meet(self, line: str, claim: _Claim) -> bool:
        """On lines by part, only operations that hold a part in common know each other."""
        if line not in self.by_part:
            return True
        return not self._holds(claim.before).isdisjoint(self._holds(claim.after))

    def _holds(self, code: str) -> frozenset[str]:
        return self.works[code].holds

    def _opened_first(self, line: Line, works: Sequence[Work], start: Levels) -> Iterator[_Claim]:
        opening = [(work, work.opens[line.code]) for work in works if line.code in work.opens]
        for work in works:
            most = work.at_most.get(line.code)
            if most is None or start[line.code] <= most:
                continue
            enough = max((level for other, level in opening if level <= most and other != work), default=most)
            for other, level in opening:
                if level >= enough:
                    yield _Claim(1, other.code, work.code, line.code, f"done with {line.say[most]}")

    def _open_then_close(
        self, line: Line, works: Sequence[Work], raising: Sequence[Work]
    ) -> Iterator[_Claim]:
        for work in works:
            most = work.at_most.get(line.code)
            for other in raising if most is not None else ():
                if other.leaves[line.code] > (most or 0):
                    yield _Claim(2, work.code, other.code, line.code, f"done with {line.say[most or 0]}")

    def _raised_first(
        self, line: Line, works: Sequence[Work], raising: Sequence[Work], lowest: int
    ) -> Iterator[_Claim]:
        for work in works:
            least = work.at_least.get(line.code, 0)
            if line.place and lowest >= least:
                continue
            for other in raising:
                if other.base(line.code) < least:
                    yield _Claim(3, other.code, work.code, line.code, f"needs {line.say[least]}")

    def _spoilt_first(
        self, line: Line, works: Sequence[Work], lowering: Sequence[tuple[Work, int]]
    ) -> Iterator[_Claim]:
        for work in works:
            least = work.at_least.get(line.code, 0)
            for other, level in lowering:
                if level < least:
                    yield _Claim(4, other.code, work.code, line.code, f"needs {line.say[least]} for good")

    def _as_found_first(
        self, line: Line, works: Sequence[Work], lowering: Sequence[tuple[Work, int]]
    ) -> Iterator[_Claim]:
        for work in works:
            still = work.still.get(line.code, 0)
            for other, level in lowering:
                if level < still:
                    reason = f"done while {line.name} is still as it was"
                    yield _Claim(5, work.code, other.code, line.code, reason)

    def _never_undone(
        self, line: Line, lowering: Sequence[tuple[Work, int]], raising: Sequence[Work]
    ) -> Iterator[_Claim]:
        for other in raising:
            level = other.leaves[line.code]
            for work, lowered in lowering:
                if lowered < level and work.at_least.get(line.code, 0) < level:
                    reason = f"would undo “{line.say[level]}”"
                    yield _Claim(6, work.code, other.code, line.code, reason)

    def _in_steps(self, line: str, steps: tuple[str, ...], works: Sequence[Work]) -> Iterator[_Claim]:
        placed = [(steps.index(work.step[line]), work) for work in works if line in work.step]
        for place, work in placed:
            for later, other in placed:
                if place < later:
                    reason = f"{line}: {work.step[line]} before {other.step[line]}"
                    claim = _Claim(7, work.code, other.code, line, reason)
                    if self._meet(line, claim):
                        yield claim
