"""Writes a crate's ledger: one line for each tap, and with it what the crate looks like afterwards."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction
from django.utils import timezone

from shopflow.catalogue.models import Department
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Crate, CrateCount, CrateLine, CrateMove
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.people.taps import KeyUsedTwice, TapIn, fingerprint

from .tally import Kind, Tally, after

Counted = tuple[CrateLine, int, int]
Count = Callable[[Crate, dict[int, CrateLine]], list[Counted]]
COUNTINGS = frozenset({Kind.OUT, Kind.IN, Kind.COUNTED, Kind.RIGHT, Kind.EMPTIED})
# What an assembling hand must hear of at once.
TOLD_TO_BENCHES = COUNTINGS


class CrateMovedOn(Refused):
    """Someone else counted this crate since the page was drawn. Answered with 409."""

    status = 409

    def __init__(self, crate: Crate, last: CrateMove) -> None:
        at = timezone.localtime(last.recorded_at)
        super().__init__(
            f"Crate {crate.number} was {last.get_kind_display()} by {last.by.name} at {at:%H:%M on %d %b}"
            " since this page was drawn. Nothing was changed; look again."
        )


@dataclass(frozen=True, slots=True)
class Act:
    """What one tap asks of a crate."""

    kind: str
    by: Person
    tap: TapIn
    body: dict[str, Any]
    place: str = ""
    department: Department | None = None
    second: Person | None = None
    second_outside: str = ""
    reason: str = ""
    rest_follows: bool = False
    # The last counting that the person saw; None where an older page does no harm.
    seen: int | None = None
    mark: str = field(init=False)

    def __post_init__(self) -> None:
        mark = fingerprint({"deed": self.kind, "by": self.by.pk, **self.body})
        object.__setattr__(self, "mark", mark)


def nothing_counted(_: Crate, __: dict[int, CrateLine]) -> list[Counted]:
    return []


@transaction.atomic
def write(crate: Crate, act: Act, count: Count = nothing_counted) -> CrateMove:
    """Write the act once for its tap; the same tap again gets the line it wrote before."""
    access.require(act.by, Deed.CRATES)
    crate = Crate.objects.select_for_update(of=("self",)).get(pk=crate.pk)
    known = written_before(act, CrateMove.objects.filter(crate=crate))
    if known is not None:
        return known
    _refuse_stale(crate, act)
    counts = count(crate, {line.pk: line for line in crate.lines.all()})
    move = _add(crate, act)
    for line, counted, expected in counts:
        CrateCount.objects.create(move=move, line=line, count=counted, expected=expected)
        _set(line, after(_tally(line), act.kind, counted, rest_follows=act.rest_follows))
    _project(crate, move)
    crate.save(update_fields=["place", "department", "state"])
    if act.kind in TOLD_TO_BENCHES:
        pulse.bump()
    return move


def written_before(act: Act, among: Any) -> CrateMove | None:
    """The line that this very tap wrote; the same key for something else is refused."""
    known: CrateMove | None = among.filter(client=act.tap.client, key=act.tap.key).first()
    if known is not None and known.body != act.mark:
        raise KeyUsedTwice
    return known


def last_counting(crate: Crate) -> CrateMove | None:
    return crate.moves.filter(kind__in=COUNTINGS).select_related("by").order_by("-pk").first()


def _refuse_stale(crate: Crate, act: Act) -> None:
    last = last_counting(crate) if act.seen is not None else None
    if last is not None and last.pk != act.seen:
        raise CrateMovedOn(crate, last)


def _add(crate: Crate, act: Act) -> CrateMove:
    return CrateMove.objects.create(
        crate=crate,
        kind=act.kind,
        place=act.place,
        department=act.department,
        rest_follows=act.rest_follows,
        reason=act.reason,
        by=act.by,
        second=act.second,
        second_outside=act.second_outside,
        tablet=act.tap.tablet,
        tapped_at=act.tap.tapped_at,
        recorded_at=clock.now(),
        client=act.tap.client,
        key=act.tap.key,
        body=act.mark,
    )


def _project(crate: Crate, move: CrateMove) -> None:
    """What a line means for the crate as a whole."""
    if move.kind in {Kind.MOVED, Kind.PACKED} and (move.place or move.department_id):
        crate.place, crate.department_id = move.place, move.department_id
    if move.kind == Kind.EMPTIED:
        crate.state = Crate.State.EMPTIED
    elif move.kind == Kind.OPENED:
        crate.state = Crate.State.OPEN
    elif move.kind == Kind.PACKED or (move.kind == Kind.IN and crate.state == Crate.State.EMPTIED):
        crate.state = Crate.State.PACKED


def _tally(line: CrateLine) -> Tally:
    return Tally(line.count, line.away, line.missing)


def _set(line: CrateLine, tally: Tally) -> None:
    line.count, line.away, line.missing = tally.count, tally.away, tally.missing
    line.save(update_fields=["count", "away", "missing"])


def differences(*, mend: bool = False) -> list[str]:
    """Replay every crate's ledger and name each crate and part whose stored facts differ."""
    moves: dict[int, list[CrateMove]] = defaultdict(list)
    for move in CrateMove.objects.order_by("pk").prefetch_related("counts"):
        moves[move.crate_id].append(move)
    wrong = []
    for crate in Crate.objects.prefetch_related("lines").iterator(chunk_size=500):
        wrong += _differs(crate, moves[crate.pk], mend)
    return wrong


def _differs(crate: Crate, moves: Iterable[CrateMove], mend: bool) -> list[str]:
    stored = (crate.place, crate.department_id, crate.state)
    crate.place, crate.department_id, crate.state = "", None, Crate.State.PACKED
    told: dict[int, Tally] = defaultdict(Tally)
    for move in moves:
        for count in move.counts.all():
            told[count.line_id] = after(
                told[count.line_id], move.kind, count.count, rest_follows=move.rest_follows
            )
        _project(crate, move)
    wrong = [line for line in crate.lines.all() if _tally(line) != told[line.pk]]
    words = [f"{crate}, {line.name}: stored {_tally(line)}, ledger says {told[line.pk]}" for line in wrong]
    if stored != (crate.place, crate.department_id, crate.state):
        words.append(f"{crate}: stored {stored}, ledger says {crate.place, crate.department_id, crate.state}")
    if mend:
        for line in wrong:
            _set(line, told[line.pk])
        crate.save(update_fields=["place", "department", "state"])
    return words
