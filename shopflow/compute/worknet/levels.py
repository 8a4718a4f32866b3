"""The four usual ways to go, as exact questions: what must be mended, for the least money, consistently."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from shopflow.compute import unsafe
from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import one_of, whole
from shopflow.compute.worknet.clashing import Clashes
from shopflow.compute.worknet.model import Work
from shopflow.compute.worknet.rules import Rule

NAMES = ("keep it going", "good order", "rebuilt", "case only")
ALIASES = {"keep going": "keep it going"}
CASE_GROUPS = frozenset({"case", "hardware", "casters"})
WORN = 2
ENOUGH, ENOUGH_FOR_LOOKS = 60, 30
# What a way has besides its repairs, each by this operation or by what makes it needless; and what comes with
# new strings. Common practice, no source; `ways` in the data puts a shop's own in their place.
BESIDES: Mapping[str, Sequence[str]] = {
    "keep it going": ("tune-once",),
    "good order": ("action-clean", "regulate-1", "shop-tune"),
    "rebuilt": ("regulate-1", "regulate-2", "shop-tune", "voice"),
    "case only": (),
}
WITH_STRINGS_OFF: Mapping[str, Sequence[str]] = {"rebuilt": ("string-bass", "damper-felts")}
STRINGS_OFF = "strings-off"
# Leaving a finding unmended that a way must mend costs more than any work.
NEVER = 1e7
TINY = 1e-3
OPTIONS: Mapping[str, Any] = {"output_flag": False, "parallel": "off", "random_seed": 0, "mip_rel_gap": 0.0}


@dataclass(frozen=True, slots=True)
class FindingKind:
    """A kind of finding: what it stops when it is there, how it touches the piano, what it forbids."""

    code: str
    name: str
    group: str
    stops: str
    weights: Mapping[str, float]
    forbids: frozenset[str]

    @property
    def is_looks_alone(self) -> bool:
        return not any(self.weights.get(side) for side in ("safety", "playing", "tone"))

    def is_unsafe(self, severity: int) -> bool:
        weights = self.weights
        return unsafe.is_unsafe(
            severity=severity,
            stops=self.stops,
            safety=weights.get("safety", 0),
            playing=weights.get("playing", 0),
        )


@dataclass(frozen=True, slots=True)
class Remedy:
    """One way to mend a kind of finding on this kind of piano."""

    code: str
    finding: str
    cures: int
    operations: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Way:
    """What a way must mend by which remedies, and what it has besides; and the set that does it for least."""

    mended: Mapping[str, tuple[Remedy, ...]]
    besides: tuple[str, ...]
    with_strings_off: tuple[str, ...]


def read_findings(data: Mapping[str, Any]) -> dict[str, FindingKind]:
    """The kinds of findings by their codes; none where the data holds no library."""
    stops, forbids = data.get("stops") or {}, data.get("forbids") or {}
    return {
        code: FindingKind(
            code,
            str(row.get("name") or code),
            str(row.get("group") or ""),
            str(row.get("stops") or stops.get(code, "")),
            {side: float(row.get(side) or 0) for side in ("safety", "playing", "tone", "looks")},
            frozenset(row.get("forbids") or forbids.get(code, ())),
        )
        for code, row in (data.get("findings") or {}).items()
    }


def read_remedies(data: Mapping[str, Any], kind: str, works: Mapping[str, Work]) -> dict[str, Remedy]:
    """The remedies that can be done on this kind of piano, by their codes."""
    corrected = data.get("remedies") or {}
    rows = [*(data.get("library") or ()), *(data.get("more_remedies") or ())]
    found: dict[str, Remedy] = {}
    for row in rows:
        if row.get("only_for") not in (None, "", kind) or row["code"] in found:
            continue
        codes = corrected.get(row["code"], row["operations"])
        codes = codes.get(kind, ()) if isinstance(codes, Mapping) else codes
        done_here = tuple(code for code in codes if code in works)
        if done_here:
            found[row["code"]] = Remedy(row["code"], row["finding"], int(row.get("cures", 100)), done_here)
    return found


def way_to_go(
    name: str, findings: Mapping[str, int], kinds: Mapping[str, FindingKind], remedies: Iterable[Remedy]
) -> Way:
    """What one of the four ways mends of these findings (severity 0 to 4 by code), and by what it may."""
    name = one_of("way", ALIASES.get(name, name), NAMES)
    if findings and not kinds:
        raise ComputeError("findings", "no library of findings", "data that has one")
    listed = list(remedies)
    forbidden = {code for finding in findings for code in _kind(kinds, finding).forbids}
    mended = {}
    for code, severity in findings.items():
        kind = _kind(kinds, code)
        whole(f"severity of {code}", severity, at_least=0, at_most=4)
        offered = [
            remedy for remedy in listed if remedy.finding == code and forbidden.isdisjoint(remedy.operations)
        ]
        if offered and _must_mend(name, kind, severity):
            mended[code] = tuple(_allowed(name, kind, severity, offered))
    return Way(mended, tuple(BESIDES[name]), tuple(WITH_STRINGS_OFF.get(name, ())))


def _kind(kinds: Mapping[str, FindingKind], code: str) -> FindingKind:
    return kinds[one_of("finding", code, kinds)]


def _must_mend(name: str, kind: FindingKind, severity: int) -> bool:
    if severity < 1:
        return False
    if kind.is_unsafe(severity):
        return True
    if name == "case only":
        return kind.group in CASE_GROUPS and kind.stops in ("", "safe")
    if kind.stops == "pitch":
        return True
    least = {"keep it going": WORN, "good order": WORN, "rebuilt": 1}[name]
    return severity >= least and (name != "keep it going" or bool(kind.stops))


def _allowed(name: str, kind: FindingKind, severity: int, offered: Sequence[Remedy]) -> list[Remedy]:
    best = max(remedy.cures for remedy in offered)
    if name == "rebuilt":
        return [remedy for remedy in offered if remedy.cures == best]
    if name == "keep it going" or (name == "case only" and kind.is_unsafe(severity)):
        return list(offered)
    is_lenient = kind.is_looks_alone and (name == "good order" or severity <= WORN)
    enough = ENOUGH_FOR_LOOKS if is_lenient else ENOUGH
    return [remedy for remedy in offered if remedy.cures >= min(enough, best)]


class LeastMoney:
    """The zero-one question behind a way: places for operations, remedies and findings left unmended."""

    def __init__(self, works: Mapping[str, Work], rules: Sequence[Rule], clashes: Clashes) -> None:
        self.works, self.rules, self.clashes = works, rules, clashes
        self.place = {code: number for number, code in enumerate(works)}
        self.offered = {code for code, work in works.items() if not work.retired}

    def solve(self, way: Way) -> tuple[frozenset[str], dict[str, str], list[str]]:
        """Operations, the remedy of each mended finding, and findings that nothing consistent mends."""
        remedies = [remedy for offered in way.mended.values() for remedy in offered]
        first_remedy, first_left = len(self.place), len(self.place) + len(remedies)
        rows = _Rows()
        self._rules(rows, way)
        for number, remedy in enumerate(remedies):
            for code in remedy.operations:
                served = [self.place[code], *(self.place[i] for i in sorted(self.clashes.instead_of(code)))]
                rows.at_least(0, {**dict.fromkeys(served, 1), first_remedy + number: -1})
        for number, finding in enumerate(way.mended):
            own = [first_remedy + i for i, remedy in enumerate(remedies) if remedy.finding == finding]
            rows.at_least(1, dict.fromkeys([*own, first_left + number], 1))
        costs = [work.cost + TINY for work in self.works.values()]
        costs += [TINY * (1 - remedy.cures / 100) for remedy in remedies] + [NEVER] * len(way.mended)
        taken = rows.minimise(costs)
        chosen = {remedy.finding: remedy.code for i, remedy in enumerate(remedies) if taken[first_remedy + i]}
        left = [finding for i, finding in enumerate(way.mended) if taken[first_left + i]]
        return frozenset(code for code, i in self.place.items() if taken[i]), chosen, left

    def _rules(self, rows: _Rows, way: Way) -> None:
        for rule in self.rules:
            terms = {self.place[code]: -1 for code in rule.body}
            terms |= {self.place[code]: 1 for code in rule.heads}
            rows.at_least(1 - len(rule.body), terms)
        for code, others in self.clashes.hard.items():
            for other in others:
                if code < other:
                    rows.at_least(-1, {self.place[code]: -1, self.place[other]: -1})
        for code in self.place.keys() - self.offered:
            rows.at_least(0, {self.place[code]: -1})
        self._besides(rows, way)

    def _besides(self, rows: _Rows, way: Way) -> None:
        for code in way.besides:
            if code in self.offered:
                served = (code, *self.clashes.instead_of(code))
                rows.at_least(1, {self.place[each]: 1 for each in served})
        for code in way.with_strings_off:
            if {code, STRINGS_OFF} <= self.offered:
                rows.at_least(0, {self.place[code]: 1, self.place[STRINGS_OFF]: -1})


class _Rows:
    """Rows of a zero-one question, each a sum that has to reach a least value."""

    def __init__(self) -> None:
        self.rows: list[tuple[float, dict[int, float]]] = []

    def at_least(self, least: float, terms: Mapping[int, float]) -> None:
        self.rows.append((least, {place: float(value) for place, value in terms.items()}))

    def minimise(self, costs: Sequence[float]) -> list[bool]:
        """The cheapest yes or no for each place; ComputeError if no answer keeps all rows."""
        import highspy  # Only here: the package is imported where no solver is installed.

        solver = highspy.Highs()
        for option, value in OPTIONS.items():
            solver.setOptionValue(option, value)
        for place, cost in enumerate(costs):
            solver.addCol(float(cost), 0.0, 1.0, 0, [], [])
            solver.changeColIntegrality(place, highspy.HighsVarType.kInteger)
        for least, terms in self.rows:
            solver.addRow(float(least), highspy.kHighsInf, len(terms), list(terms), list(terms.values()))
        solver.run()
        if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            raise ComputeError("work", "rules that contradict each other", "rules that some job can keep")
        return [value > 0.5 for value in solver.getSolution().col_value]
