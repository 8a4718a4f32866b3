"""What became of each finding, as the signed work of this stay proves it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import QuerySet

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Remedy, Stage
from shopflow.compute.proof import Gap
from shopflow.instruments.models import Finding, Instrument
from shopflow.instruments.selectors.findings import CurrentFinding, current_findings
from shopflow.offers.models import LaidOut, OptionFinding

from .proved import Proved, proved

# What other work put right by the way counts as mended only by a remedy that cures nearly all of the harm.
CURES_BY_THE_WAY = 80


@dataclass(slots=True)
class Agreed:
    """What was to mend one finding: the operations of its remedy, or the tasks tied to it by hand."""

    remedy: Remedy | None = None
    codes: frozenset[str] = frozenset()
    tasks: list[int] = field(default_factory=list)
    open_tasks: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class FoundSo:
    """One finding with its fate; `by` names the codes of the work that mended it, `why` what is missing."""

    finding: CurrentFinding
    state: str
    by: tuple[str, ...] = ()
    tasks: tuple[int, ...] = ()
    gaps: tuple[Gap, ...] = ()
    is_by_the_way: bool = False


@dataclass(frozen=True, slots=True)
class Fate:
    """What became of the findings of an instrument."""

    told: tuple[FoundSo, ...]

    def _of(self, state: str) -> list[CurrentFinding]:
        return [one.finding for one in self.told if one.state == state]

    @property
    def mended(self) -> list[CurrentFinding]:
        return self._of(Finding.State.MENDED)

    @property
    def left(self) -> list[CurrentFinding]:
        return self._of(Finding.State.LEFT)

    @property
    def in_work(self) -> list[CurrentFinding]:
        return self._of(Finding.State.IN_WORK)

    @property
    def undecided(self) -> list[CurrentFinding]:
        return self._of(Finding.State.OPEN)

    @property
    def by_the_way(self) -> list[FoundSo]:
        """Left on paper, and put right with other work all the same."""
        return [one for one in self.told if one.is_by_the_way]

    @property
    def still_to_mend(self) -> list[FoundSo]:
        return [one for one in self.told if one.state in {Finding.State.IN_WORK, Finding.State.OPEN}]


def fate_of_findings(instrument: Instrument, shown: Proved | None = None) -> Fate:
    """As the signed work says, whether that was noted with the finding already or not."""
    shown = shown or proved(instrument)
    found = current_findings(instrument)
    agreed = _agreed(instrument)
    library = _library(found, instrument)
    judged = (
        _judge(one, agreed.get(one.pk), library[one.kind.pk if one.kind else 0], shown) for one in found
    )
    return Fate(tuple(one for one in judged if one is not None))


def put_right(instrument: Instrument) -> set[int]:
    """What signed work has mended: meant or by the way, noted or not yet."""
    return {one.pk for one in fate_of_findings(instrument).mended}


def states_to_note(instrument: Instrument) -> dict[int, str]:
    """The findings whose noted state is not what the signed work of this stay says, with what it says."""
    told = fate_of_findings(instrument).told
    return {
        one.finding.pk: one.state for one in told if one.state != one.finding.state and not one.is_by_the_way
    }


def _judge(
    one: CurrentFinding, agreed: Agreed | None, library: list[Agreed], shown: Proved
) -> FoundSo | None:
    if one.state == Finding.State.LEFT:
        return _left(one, library, shown)
    if one.state not in {Finding.State.IN_WORK, Finding.State.MENDED}:
        return FoundSo(one, one.state)
    agreed = agreed or _fulfilled(library, shown)
    if one.state == Finding.State.MENDED and _is_of_an_older_stay(one, agreed, shown):
        return None
    if agreed is None:
        # Called mended without any work for it: that is for somebody to decide.
        is_called_so = one.state == Finding.State.MENDED
        return FoundSo(one, Finding.State.OPEN if is_called_so else Finding.State.IN_WORK)
    gaps = tuple(shown.proof.gaps(agreed.codes)) if agreed.codes else _gaps_by_hand(agreed, shown)
    if gaps or agreed.open_tasks:
        return FoundSo(one, Finding.State.IN_WORK, gaps=gaps)
    return _mended(one, agreed, shown)


def _left(one: CurrentFinding, library: list[Agreed], shown: Proved) -> FoundSo:
    strong = [
        each
        for each in library
        if each.remedy
        and each.remedy.cures >= CURES_BY_THE_WAY
        and all(map(shown.proof.is_whole, each.codes))
    ]
    fulfilled = _fulfilled(strong, shown)
    return _mended(one, fulfilled, shown, by_the_way=True) if fulfilled else FoundSo(one, one.state)


def _fulfilled(library: Iterable[Agreed], shown: Proved) -> Agreed | None:
    return next((each for each in library if each.codes and not shown.proof.gaps(each.codes)), None)


def _mended(one: CurrentFinding, agreed: Agreed, shown: Proved, *, by_the_way: bool = False) -> FoundSo:
    by = dict.fromkeys(code for each in sorted(agreed.codes) for code in shown.proof.answering(each))
    tasks = [task.pk for task in shown.tasks if task.operation and task.operation.code in by]
    return FoundSo(
        one, Finding.State.MENDED, tuple(by), tuple(tasks or agreed.tasks), is_by_the_way=by_the_way
    )


def _gaps_by_hand(agreed: Agreed, shown: Proved) -> tuple[Gap, ...]:
    """For work that was added by hand: each of its tasks is signed in this stay, and nothing undid it."""
    places = {task.pk: place for place, task in enumerate(shown.tasks)}
    signed = {task.pk for task in shown.stay.signed_tasks}
    gaps = [Gap("") for pk in agreed.tasks if pk not in signed] or ([] if agreed.tasks else [Gap("")])
    for pk in agreed.tasks:
        undone = shown.proof.undone_by(places[pk]) if pk in places else None
        if undone is not None and not shown.proof.answering(shown.proof.done[places[pk]]):
            gaps.append(Gap(shown.proof.done[places[pk]], is_signed=True, undone_by=undone))
    return tuple(gaps)


def _is_of_an_older_stay(one: CurrentFinding, agreed: Agreed | None, shown: Proved) -> bool:
    """Mended before the piano last went home: no matter of this report."""
    if shown.since is None:
        return False
    of_this_stay = {task.pk for task in (*shown.stay.signed_tasks, *shown.stay.open_tasks)}
    if agreed is not None and agreed.tasks:
        return of_this_stay.isdisjoint(agreed.tasks)
    return one.latest.at < shown.since


def _agreed(instrument: Instrument) -> dict[int, Agreed]:
    """By finding: the remedy of the last yes to it, and its tasks. Four queries."""
    ties = (
        LaidOut.objects.filter(task__instrument=instrument, finding__isnull=False)
        .select_related("task__stage", "choice__remedy")
        .order_by("pk")
    )
    found: dict[int, Agreed] = defaultdict(Agreed)
    options = dict[tuple[int, int], int]()
    last: dict[int, LaidOut] = {}
    for tie in ties:
        last[tie.finding_id or 0] = tie
        if tie.task.dropped_at is None:
            found[tie.finding_id or 0].tasks.append(tie.task_id)
            if tie.task.stage.kind != Stage.Kind.SIGNED:
                found[tie.finding_id or 0].open_tasks.append(tie.task_id)
    chosen = [tie.option_id for tie in last.values() if tie.option_id]
    rows = OptionFinding.objects.filter(option__in=chosen, remedy__isnull=False)
    options = {(row.option_id, row.finding_id): row.remedy_id or 0 for row in rows}
    remedies = {
        pk: options.get((tie.option_id or 0, pk), 0) or (tie.choice.remedy_id or 0 if tie.choice else 0)
        for pk, tie in last.items()
    }
    known = _with_codes(Remedy.objects.filter(pk__in=set(remedies.values())), instrument)
    for pk, remedy in remedies.items():
        agreed = found[pk]
        if remedy in known:
            agreed.remedy, agreed.codes = known[remedy].remedy, known[remedy].codes
    return dict(found)


def _library(found: list[CurrentFinding], instrument: Instrument) -> dict[int, list[Agreed]]:
    """The remedies of every kind that was found, the most thorough first. Two queries."""
    kinds = {one.kind.pk for one in found if one.kind}
    rows = Remedy.objects.filter(finding_kind__in=kinds, only_for__in=["", instrument.kind])
    together: dict[int, list[Agreed]] = defaultdict(list)
    for each in _with_codes(rows.order_by("-cures", "position"), instrument).values():
        if each.remedy:
            together[each.remedy.finding_kind_id].append(each)
    return together


def _with_codes(remedies: QuerySet[Remedy], instrument: Instrument) -> dict[int, Agreed]:
    """Each remedy with the operations that it takes on this kind of instrument."""
    known = knowledge(instrument.kind).remedies
    return {
        one.pk: Agreed(
            remedy=one,
            codes=frozenset(
                known.get(one.code)
                or (op.code for op in one.operations.all() if op.hours_for(instrument.kind))
            ),
        )
        for one in remedies.prefetch_related("operations")
    }
