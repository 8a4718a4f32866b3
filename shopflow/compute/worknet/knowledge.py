"""What a shop knows of one kind of piano, and the questions asked of it. The contract of the package."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import one_of
from shopflow.compute.worknet.clashing import Clashes
from shopflow.compute.worknet.completing import Choice, Completed, Completer, Found
from shopflow.compute.worknet.levels import LeastMoney, read_findings, read_remedies, way_to_go
from shopflow.compute.worknet.model import Line, Work
from shopflow.compute.worknet.ordering import Orderer, Tie
from shopflow.compute.worknet.reading import OperationReader, known_codes, read_lines, read_steps
from shopflow.compute.worknet.rules import Rule, rules_for, unmet

KINDS = ("upright", "grand")
MOST_STATES = 64
State = dict[str, str]


@dataclass(frozen=True, slots=True)
class Extra:
    """What a remedy does to a job under way.

    `added` comes on top (of it `again`: was done and is done once more); `away` is open work that falls away;
    `in_vain` was done and is thrown away by it; `touched` is open work that comes after what is added.
    """

    added: frozenset[str]
    again: frozenset[str]
    away: frozenset[str]
    in_vain: frozenset[str]
    touched: frozenset[str]
    reasons: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


class Knowledge:
    """The rules of the work on one kind of piano, all derived from the state of its parts.

    Made by `load`. Operations are named by their codes; `done` is a list in the order of signing and may name
    a code twice. Every question raises ComputeError for a code that is not known here.
    """

    def __init__(self, works: Mapping[str, Work], lines: Mapping[str, Line], data: Mapping[str, Any]) -> None:
        self._works, self._lines = works, lines
        self._start = {code: line.found for code, line in lines.items()}
        self._clashes = Clashes(works, data.get("words") or {})
        self._orderer = Orderer(works, lines, read_steps(data), data.get("steps_by_part") or ())
        self._completers: dict[tuple[int, ...], Completer] = {}
        self._findings = read_findings(data)

    @classmethod
    def load(cls, data: Mapping[str, Any], kind: str) -> Knowledge:
        """The knowledge of one kind of piano ("upright" or "grand") from plain data.

        Parameters: `data` with `lines` (levels from least to most, found, goal, say), `operations` (at,
        needs, opens, leaves, spoils, keeps, renews ...), and optionally `steps`, `parts`, `words`, `common`,
        `rates` (money an hour by department), `materials` (money by band), `rests` (hours low, likely,
        high), and a library of `findings` and their remedies (`library`). Result: Knowledge.
        Errors: ComputeError that names an unknown line, level, step or code; a circle with its members; an
        operation that can never be done or never be closed up again.
        Source: none; the levels and orders in the data are common practice, only the algebra is here.

        >>> data = {"lines": {"wire": {"levels": ["off", "on"], "found": "on", "goal": "on"}},
        ...         "operations": {"take": {"grand": [1, 1, 1], "opens": {"wire": "off"}},
        ...                        "string": {"grand": [9, 9, 9], "needs": {"wire": "at most off"},
        ...                                   "leaves": {"wire": "on"}}}}
        >>> Knowledge.load(data, "grand").complete(["string"]).operations
        ('string', 'take')
        """
        if not isinstance(data, Mapping):
            raise ComputeError("data", data, "rows of lines and operations")
        one_of("kind", kind, KINDS)
        lines = read_lines(data)
        works = OperationReader(data, kind, lines).read()
        knowledge = cls(works, lines, data)
        knowledge._remedies = read_remedies(data, kind, works)
        knowledge._check()
        return knowledge

    _remedies: Mapping[str, Any] = {}

    # --- What is known -----------------------------------------------------------------------------------

    @property
    def codes(self) -> frozenset[str]:
        """All operations that are done on this kind of piano."""
        return frozenset(self._works)

    @property
    def lines(self) -> Mapping[str, Line]:
        """The lines of state by their codes."""
        return self._lines

    @property
    def remedies(self) -> Mapping[str, tuple[str, ...]]:
        """The operations of each remedy of the library that is done on this kind of piano."""
        return {code: remedy.operations for code, remedy in self._remedies.items()}

    def name(self, code: str) -> str:
        return self._work(code).name

    def work(self, code: str) -> Work:
        """All that is known of one operation on this kind of piano."""
        return self._work(code)

    def parts_of(self, code: str) -> frozenset[str]:
        """The parts of the piano that nobody else may have while this work is in hand."""
        return self._work(code).holds

    def rest_holds(self, code: str) -> bool:
        """Whether its parts stay with it while it rests (clamps, cure) or are free (settling pitch)."""
        return self._work(code).rest_holds

    def instead_of(self, code: str) -> frozenset[str]:
        """What makes this work needless."""
        self._work(code)
        return self._clashes.instead_of(code)

    def hard_clashes(self) -> tuple[tuple[str, str], ...]:
        """All pairs of operations that no job may hold together."""
        return tuple(pair for pair in self._clashes.sentences if pair not in self._clashes.questions)

    def rules(self, start: Mapping[str, str] | None = None) -> tuple[Rule, ...]:
        """What must be in a job when something else is; for a piano as found, or in this state."""
        return tuple(self._completer(self._levels(start)).rules)

    # --- The eight derivations ---------------------------------------------------------------------------

    def complete(self, job: Iterable[str], start: Mapping[str, str] | None = None) -> Completed:
        """The whole job: opened, done, closed again, by the least cost; with a reason for each addition.

        What contradicts itself is answered by the work that makes it needless, and told in `in_vain`.
        Parameters: `job` codes; `start` levels by line where the piano is not as found. Result: Completed.
        Errors: ComputeError naming the job where nothing answers both sides of a contradiction.
        """
        codes = known_codes("job", job, self._works)
        return self._complete(codes, self._levels(start))

    def order(self, job: Iterable[str], start: Mapping[str, str] | None = None) -> tuple[Tie, ...]:
        """What comes before what in this job, without what a longer chain says; each tie with its reason.

        Result: ties (before, after, lag_hours, reason), iterable in that order of fields.
        Errors: ComputeError naming the members of a circle.
        """
        return self._orderer.ties(known_codes("job", job, self._works), self._levels(start))

    def clashes(self, job: Iterable[str]) -> tuple[tuple[str, str, str], ...]:
        """The pairs in this job that contradict each other: (code, code, sentence)."""
        return tuple(self._clashes.pairs(frozenset(known_codes("job", job, self._works))))

    def questions(self, job: Iterable[str]) -> tuple[tuple[str, str, str], ...]:
        """The pairs that contradict each other if they mean the same bridge, panel or note."""
        return tuple(self._clashes.asked(frozenset(known_codes("job", job, self._works))))

    def in_vain(
        self, job: Iterable[str], start: Mapping[str, str] | None = None
    ) -> tuple[tuple[str, str], ...]:
        """What this job asks for in vain, because other work in it, or what that brings, throws it away."""
        return self.complete(job, start).in_vain

    def unmet(self, job: Iterable[str], start: Mapping[str, str] | None = None) -> tuple[Rule, ...]:
        """What is missing in this job as it stands."""
        codes = known_codes("job", job, self._works)
        return tuple(unmet(self._completer(self._levels(start)).rules, codes))

    def dropping(
        self, job: Iterable[str], code: str, start: Mapping[str, str] | None = None
    ) -> tuple[str, ...]:
        """What becomes wrong when this work is taken out of the job, in words; nothing: it may go."""
        codes = known_codes("job", job, self._works)
        known_codes("code", [code], self._works)
        before = set(self.unmet(codes, start))
        rest = [each for each in codes if each != code]
        return tuple(dict.fromkeys(rule.why for rule in self.unmet(rest, start) if rule not in before))

    def extra(self, done: Iterable[str], todo: Iterable[str], remedy: Iterable[str]) -> Extra:
        """What a remedy adds to a job under way, in the state that its signed work has brought about."""
        signed = known_codes("done", done, self._works)
        open_work = frozenset(known_codes("todo", todo, self._works))
        wanted = known_codes("remedy", remedy, self._works)
        state = self._replayed(signed)
        instead = self._clashes.instead_of
        fit = frozenset(code for code in wanted if instead(code).isdisjoint(open_work) or code in open_work)
        away = {
            code
            for code in open_work - fit
            if not instead(code).isdisjoint(fit) or not self._clashes.hard[code].isdisjoint(fit)
        }
        whole = self._whole_with(fit, open_work - away, state)
        job = frozenset(whole.operations)
        added = job - open_work
        follows = self._orderer.pairs(job, state)
        renewed = {part for code in fit | added for part in self._works[code].renews}
        return Extra(
            added=added,
            again=added & set(signed),
            away=open_work - job,
            in_vain=frozenset(code for code in signed if self._works[code].keeps & renewed),
            touched=frozenset(then for first, then in follows if first in added and then in open_work & job),
            reasons={**self._why_away(open_work - job, job), **whole.reasons},
        )

    def may_start(self, code: str, done: Iterable[str], todo: Iterable[str]) -> tuple[str, ...]:
        """What stands in the way of this work now, in words; nothing: it may begin.

        Levels that are wrong in the piano as its signed work left it, and open work that comes before it.
        """
        return self._hindered(code, self._replayed(known_codes("done", done, self._works)), self._codes(todo))

    def hindrances(self, done: Iterable[str], todo: Iterable[str]) -> dict[str, tuple[str, ...]]:
        """`may_start` for all open work of a job at once, by code."""
        state, codes = self._replayed(known_codes("done", done, self._works)), self._codes(todo)
        return {code: self._hindered(code, state, codes) for code in sorted(set(codes))}

    def _codes(self, todo: Iterable[str]) -> list[str]:
        return known_codes("todo", todo, self._works)

    def _hindered(self, code: str, state: Mapping[str, int], todo: Iterable[str]) -> tuple[str, ...]:
        work = self._work(code)
        claims = self._orderer.before(code, todo, self._start)
        first = [f"first “{self._works[claim.before].name}” ({claim.reason})" for claim in claims]
        told = {claim.line for claim in claims}
        return (*first, *(words for line, words in self._wrong_levels(work, state) if line not in told))

    def claims(self, done: Iterable[str]) -> dict[str, tuple[str, str]]:
        """What may be said to have been done: line -> (level, code of the work that brought it there).

        A line counts if signed work left it at that level and nothing signed later lowered it.
        """
        state, claimed = dict(self._start), dict[str, tuple[str, str]]()
        for code in known_codes("done", done, self._works):
            work = self._works[code]
            for line in work.lowered:
                lowered = work.lowers(line)
                if lowered is not None and lowered < state[line] and not self._lines[line].is_settled(state):
                    claimed.pop(line, None)
            after = self._after(code, state)
            for line, level in work.leaves.items():
                is_raised = after[line] == level and state[line] < level
                is_renewed = after[line] == level == state[line] and not self._lines[line].place
                if is_raised or is_renewed:
                    claimed[line] = (self._lines[line].levels[level], code)
            state = after
        return claimed

    def level(self, name: str, findings: Mapping[str, int]) -> Completed:
        """The cheapest consistent job of one of the four usual ways to go.

        Parameters: `name` "keep it going", "good order", "rebuilt" or "case only"; `findings` severity 0 to 4
        by code of the finding. Result: Completed; `unmended` names findings that nothing consistent mends.
        Errors: ComputeError for unknown names and findings, or data without a library of findings.
        """
        way = way_to_go(name, findings, self._findings, self._remedies.values())
        completer = self._completer(self._start)
        job, _, left = LeastMoney(self._works, completer.rules, self._clashes).solve(way)
        demands = [completer.demand(code, f"part of “{name}”") for code in way.besides if code in self._works]
        found = completer.without_covered(Found(job, {}), demands)
        whole = self._told(found, set(), completer.rules)
        return Completed(whole.operations, whole.reasons, whole.choices, (), tuple(left))

    def replay(self, done: Iterable[str]) -> State:
        """The state of a piano after this work: level by line."""
        state = self._replayed(known_codes("done", done, self._works))
        return {code: self._lines[code].levels[level] for code, level in state.items()}

    # --- Behind them -------------------------------------------------------------------------------------

    def _work(self, code: str) -> Work:
        known_codes("code", [code], self._works)
        return self._works[code]

    def _levels(self, start: Mapping[str, str] | None) -> dict[str, int]:
        levels = dict(self._start)
        for code, level in (start or {}).items():
            line = self._lines[one_of("line", code, tuple(self._lines))]
            levels[code] = line.levels.index(one_of(f"level of {code}", level, line.levels))
        return levels

    def _replayed(self, done: Iterable[str]) -> dict[str, int]:
        state = dict(self._start)
        for code in done:
            state = self._after(code, state)
        return state

    def _after(self, code: str, state: Mapping[str, int]) -> dict[str, int]:
        """The state once this work is signed, too."""
        after = self._works[code].after_it(state)
        return after | {line.code: line.top for line in self._lines.values() if line.is_settled(state)}

    def _completer(self, start: Mapping[str, int]) -> Completer:
        key = tuple(start[code] for code in self._lines)
        if key not in self._completers:
            if len(self._completers) >= MOST_STATES:
                self._completers.pop(next(iter(self._completers)))
            rules = rules_for(self._works, self._lines, start)
            self._completers[key] = Completer(self._works, rules, self._clashes)
        return self._completers[key]

    def _complete(self, codes: list[str], start: dict[str, int]) -> Completed:
        whole = self._literally(codes, start) or self._loosely(codes, (), start)
        if whole is None:
            pairs = self._clashes.pairs(frozenset(codes))
            named = [pairs[0][0], pairs[0][1]] if pairs else codes
            raise ComputeError("job", self._names(named), "work that does not contradict itself")
        return whole

    def _literally(self, codes: Iterable[str], start: dict[str, int]) -> Completed | None:
        completer, asked = self._completer(start), frozenset(codes)
        if any(not self._clashes.hard[code].isdisjoint(asked) for code in asked):
            return None
        found = completer.complete(asked)
        return None if found is None else self._told(completer.without_covered(found), asked, completer.rules)

    def _loosely(self, codes: Iterable[str], fixed: Iterable[str], start: dict[str, int]) -> Completed | None:
        """Each of these by itself or by what makes it needless, beside what is fixed."""
        completer, asked = self._completer(start), list(dict.fromkeys(codes))
        demands = [completer.demand(code, f"“{self._works[code].name}” was asked for") for code in asked]
        found = completer.complete(fixed, demands)
        if found is None:
            return None
        found = completer.without_covered(found, demands)
        whole = self._told(found, {*fixed, *asked}, completer.rules)
        lost = [code for code in asked if code not in found.job]
        in_vain = tuple((code, self._lost(code, found.job)) for code in lost)
        return Completed(whole.operations, whole.reasons, whole.choices, in_vain)

    def _whole_with(self, fit: frozenset[str], open_work: frozenset[str], state: dict[str, int]) -> Completed:
        """The open work and what fits it now; loosely on the side of the open work where they contradict."""
        whole = self._literally(open_work | fit, state) or self._loosely(open_work - fit, fit, state)
        if whole is None:
            whole = self._loosely(open_work | fit, (), state)
        if whole is None:
            raise ComputeError("remedy", self._names(fit), "work that fits what is open")
        return whole

    def _told(self, found: Found, asked: Iterable[str], rules: Iterable[Rule]) -> Completed:
        """The job with the sentences that brought each operation which nobody asked for."""
        wanted, reasons = frozenset(asked), dict[str, list[str]]()
        choices = list[Choice]()
        for rule in rules:
            if rule.body <= found.job:
                taken = [head for head in rule.heads if head in found.job]
                for head in taken:
                    if head not in wanted:
                        reasons.setdefault(head, []).append(rule.why)
                if len(rule.heads) > 1 and taken:
                    choices.append(Choice(rule.why, rule.heads, taken[0]))
        told = {code: tuple(dict.fromkeys(words)) for code, words in reasons.items()}
        return Completed(tuple(sorted(found.job)), told, tuple(choices))

    def _lost(self, code: str, job: frozenset[str]) -> str:
        """Why this work is needless beside that job."""
        instead = sorted(self._clashes.instead_of(code) & job)
        for other in instead:
            sentence = self._clashes.sentence(code, other)
            if sentence:
                return sentence
        names = self._names(instead) if instead else "other work of the job"
        return f"“{self._works[code].name}” is had by {names}."

    def _why_away(self, away: Iterable[str], job: frozenset[str]) -> dict[str, tuple[str, ...]]:
        return {code: (self._lost(code, job),) for code in away}

    def _wrong_levels(self, work: Work, state: Mapping[str, int]) -> list[tuple[str, str]]:
        wrong = []
        for code, line in self._lines.items():
            if line.clears_itself:
                continue
            now = f"now {line.say[state[code]]}"
            if state[code] > work.at_most.get(code, line.top):
                wrong.append((code, f"needs {line.say[work.at_most[code]]}; {now}"))
            least = max(work.at_least.get(code, 0), work.still.get(code, 0))
            if state[code] < least:
                wrong.append((code, f"needs {line.say[least]}; {now}"))
        return wrong

    def _names(self, codes: Iterable[str]) -> str:
        return ", ".join(f"“{self._works[code].name}”" for code in sorted(codes))

    def _check(self) -> None:
        """Refuse what can never be done, and circles; each operation alone must come to an end."""
        completer = self._completer(self._start)
        for code, work in self._works.items():
            if not work.retired and completer.complete([code]) is None:
                raise ComputeError(
                    f"operation “{work.name}”",
                    "work that contradicts what it brings",
                    "work that can be opened, done and closed again",
                )
        for first, second in self._orderer.contradictions(self._start):
            if second not in self._clashes.hard[first]:
                raise ComputeError(
                    f"order of {self._names([first, second])}",
                    "each before the other",
                    "one order, no circle",
                )
        self._orderer.ties(self._works, self._start)

    @cached_property
    def every_job(self) -> frozenset[str]:
        """What is part of every job."""
        return frozenset(code for code, work in self._works.items() if work.in_every_job)
