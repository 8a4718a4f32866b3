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
class Claim:
    """That one work comes before another: by which kind of comparison, on which line, in which words.

    `asked` and `level` are what it hangs on: an opener counts only for a line that is not open enough yet and
    only as far as the first opening that is enough; a place counts only where something lowers it.
    """

    rank: int
    before: str
    after: str
    line: str
    reason: str
    asked: int = 0
    level: int = 0


OPENED, OPEN, RAISED, SPOILT, STILL, UNDONE, STEP, WISHED = range(1, 9)


class Orderer:
    """Orders jobs; every two operations by the first comparison that applies.

    All comparisons of the catalogue are written down once, by pairs; what hangs on the job or on the state of
    the piano is looked at when a job is ordered.
    """

    def __init__(
        self,
        works: Mapping[str, Work],
        lines: Mapping[str, Line],
        steps: Mapping[str, tuple[str, ...]],
        steps_by_part: Iterable[str],
    ) -> None:
        self.works, self.lines, self.steps = works, lines, steps
        self.by_part = frozenset(steps_by_part) | {code for code, line in lines.items() if line.by_part}
        self.claims: dict[tuple[str, str], list[Claim]] = {}
        for claim in self._all_claims():
            if claim.before != claim.after and self._meet(claim):
                pair = (min(claim.before, claim.after), max(claim.before, claim.after))
                self.claims.setdefault(pair, []).append(claim)
        for claims in self.claims.values():
            claims.sort(key=lambda claim: claim.rank)

    def pairs(self, job: Iterable[str], start: Levels) -> dict[tuple[str, str], Claim]:
        """Every ordered pair of this job with its first reason, none left out."""
        codes, before = sorted(set(job)), dict[tuple[str, str], Claim]()
        applies = _Applies(self, codes, start)
        for place, code in enumerate(codes):
            for other in codes[place + 1 :]:
                claim = applies.first_of(code, other)
                if claim is not None:
                    before[claim.before, claim.after] = claim
        return before

    def before(self, code: str, job: Iterable[str], start: Levels) -> list[Claim]:
        """The claims of other work in this job to come before `code`, the strongest comparison first."""
        applies = _Applies(self, {*job, code}, start)
        first = [applies.first_of(*sorted((code, other))) for other in sorted(applies.job - {code})]
        return sorted(
            (claim for claim in first if claim is not None and claim.after == code),
            key=lambda claim: (claim.rank, claim.before),
        )

    def contradictions(self, start: Levels) -> list[tuple[str, str]]:
        """The pairs that would each have to come before the other, by comparisons of the same kind."""
        applies = _Applies(self, self.works, start)
        found = []
        for pair, claims in self.claims.items():
            first = applies.first_of(*pair)
            same = [claim for claim in claims if first and claim.rank == first.rank and applies.to(claim)]
            if len({claim.before for claim in same}) > 1:
                found.append(pair)
        return found

    def ties(self, job: Iterable[str], start: Levels) -> tuple[Tie, ...]:
        """The pairs that no longer chain says already, each with its lag; ComputeError names a circle."""
        works = {code: self.works[code] for code in sorted(set(job))}
        pairs = self.pairs(works, start)
        in_line(list(pairs), jobs=works)
        return tuple(self._tie(pairs[pair], works) for pair in sorted(without_shortcuts(pairs)))

    def _tie(self, claim: Claim, works: Mapping[str, Work]) -> Tie:
        lag = self.lag_hours(works[claim.before], claim.line, works)
        return Tie(claim.before, claim.after, lag, claim.reason)

    def lag_hours(self, before: Work, line: str, job: Mapping[str, Work]) -> float:
        """The rest of the earlier work as far as it concerns this line; last coats rest as the build does."""
        if before.rest in PITCH_RESTS and line not in PITCH_LINES:
            return 0.0
        rests = [before.rest_as_hours[code] for code in before.rest_as if code in job]
        return max(rests, default=before.rest_hours)

    def _meet(self, claim: Claim) -> bool:
        """On lines by part, only operations that hold a part in common know each other."""
        if claim.line not in self.by_part:
            return True
        return not self.works[claim.before].holds.isdisjoint(self.works[claim.after].holds)

    def _all_claims(self) -> Iterator[Claim]:
        works = list(self.works.values())
        for line in self.lines.values():
            lowering = [(work, level) for work in works if (level := work.lowers(line.code)) is not None]
            raising = [work for work in works if line.code in work.leaves]
            yield from self._open(line, works, raising)
            yield from self._high_enough(line, works, lowering, raising)
            yield from self._never_undone(line, lowering, raising)
        for code, steps in self.steps.items():
            yield from self._in_steps(code, steps, works)
        for work in works:
            for earlier in work.after:
                if earlier in self.works:
                    yield Claim(WISHED, earlier, work.code, "", WISH)

    def _open(self, line: Line, works: Sequence[Work], raising: Sequence[Work]) -> Iterator[Claim]:
        """Opened first, done while it is open, closed afterwards."""
        opening = [(work, work.opens[line.code]) for work in works if line.code in work.opens]
        for work in works:
            most = work.at_most.get(line.code)
            if most is None:
                continue
            reason = f"done with {line.say[most]}"
            for other, level in opening:
                yield Claim(OPENED, other.code, work.code, line.code, reason, most, level)
            for other in raising:
                if other.leaves[line.code] > most:
                    yield Claim(OPEN, work.code, other.code, line.code, reason)

    def _high_enough(
        self,
        line: Line,
        works: Sequence[Work],
        lowering: Sequence[tuple[Work, int]],
        raising: Sequence[Work],
    ) -> Iterator[Claim]:
        """Brought up first, and spoilt no more; or done while it is still as it was found."""
        for work in works:
            least, still = work.at_least.get(line.code, 0), work.still.get(line.code, 0)
            for other in raising:
                if other.base(line.code) < least:
                    reason = f"needs {line.say[least]}"
                    yield Claim(RAISED, other.code, work.code, line.code, reason, least)
            for other, level in lowering:
                if level < least:
                    reason = f"needs {line.say[least]}, and this undoes it"
                    yield Claim(SPOILT, other.code, work.code, line.code, reason)
                if level < still:
                    reason = f"done while {line.name} is still as it was"
                    yield Claim(STILL, work.code, other.code, line.code, reason)

    def _never_undone(
        self, line: Line, lowering: Sequence[tuple[Work, int]], raising: Sequence[Work]
    ) -> Iterator[Claim]:
        for other in raising:
            level = other.leaves[line.code]
            for work, lowered in lowering:
                if lowered < level and work.at_least.get(line.code, 0) < level:
                    reason = f"afterwards it would undo: {line.say[level]}"
                    yield Claim(UNDONE, work.code, other.code, line.code, reason)

    def _in_steps(self, line: str, steps: tuple[str, ...], works: Sequence[Work]) -> Iterator[Claim]:
        placed = [(steps.index(work.step[line]), work) for work in works if line in work.step]
        for place, work in placed:
            for later, other in placed:
                if place < later:
                    reason = f"{line}: {work.step[line]} before {other.step[line]}"
                    yield Claim(STEP, work.code, other.code, line, reason)


class _Applies:
    """Which comparisons apply in one job on a piano in one state."""

    def __init__(self, orderer: Orderer, job: Iterable[str], start: Levels) -> None:
        self.claims, self.lines = orderer.claims, orderer.lines
        self.job, self.start = frozenset(job), start
        self.works = [orderer.works[code] for code in self.job]
        self.settled = {code for code, line in self.lines.items() if line.is_settled(start)}
        self.lowest: dict[str, int] = {}
        self.enough: dict[tuple[str, int, str], int] = {}

    def first_of(self, code: str, other: str) -> Claim | None:
        """The first comparison between two operations, `code` before `other` by the alphabet."""
        for claim in self.claims.get((code, other), ()):
            if self.to(claim):
                return claim
        return None

    def to(self, claim: Claim) -> bool:
        if claim.line in self.settled:
            return False
        if claim.rank == OPENED:
            return self.start[claim.line] > claim.asked and claim.level >= self._enough(claim)
        if claim.rank == RAISED and self.lines[claim.line].place:
            return self._lowest(claim.line) < claim.asked
        return True

    def _enough(self, claim: Claim) -> int:
        """How far the first opening goes that is enough for what is asked."""
        key = (claim.line, claim.asked, claim.after)
        if key not in self.enough:
            levels = (
                work.opens[claim.line]
                for work in self.works
                if claim.line in work.opens and work.code != claim.after
            )
            self.enough[key] = max((level for level in levels if level <= claim.asked), default=claim.asked)
        return self.enough[key]

    def _lowest(self, line: str) -> int:
        if line not in self.lowest:
            lowered = (level for work in self.works if (level := work.lowers(line)) is not None)
            self.lowest[line] = min(lowered, default=self.start[line])
            self.lowest[line] = min(self.lowest[line], self.start[line])
        return self.lowest[line]
