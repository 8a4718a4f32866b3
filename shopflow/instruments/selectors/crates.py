"""Questions about crates: what lies where, what is out of the house, and what is missing of a piano."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Count, Q
from django.http import Http404

from ..models import Crate, CrateCount, CrateLine, CrateMove, Instrument
from ..services.crates.book import last_counting

# Words of the trade; a shop may write its own.
SETS = ("hardware", "action", "keys", "case", "screws", "pedals and lyre", "dampers", "bass strings", "other")
PARTS = (
    *("lid hinges", "fall hinges", "hinge screws", "lock and key", "lid props", "pedals", "pedal rods"),
    *("casters", "candle arms", "desk plates", "hammers", "wippens", "keys", "key slip", "cheek blocks"),
    *("fall", "lid", "music desk", "legs", "lyre", "upper door", "lower door"),
)
HISTORY = 40
_NUMBER = re.compile(r"(?:.*/crates/)?0*([0-9]{1,5})/?", re.IGNORECASE | re.ASCII)


@dataclass(frozen=True, slots=True)
class OfSet:
    """Which one of its set a crate is: “hardware, 1 of 3”."""

    place: int
    of: int

    def __str__(self) -> str:
        return f"{self.place} of {self.of}"


@dataclass(frozen=True, slots=True)
class Gone:
    """Parts that are not where they belong, and the line of the ledger that says so."""

    line: CrateLine
    out: CrateMove | None = None
    counted: CrateMove | None = None

    @property
    def away_words(self) -> str:
        return f"{self.line.away} of {self.line.count} × {self.line.name}"

    @property
    def missing_words(self) -> str:
        return f"{self.line.missing} of {self.line.count} × {self.line.name}"


@dataclass(frozen=True, slots=True)
class Missing:
    """What of an instrument is out of the house, what is missing, and what still lies in crates."""

    away: list[Gone] = field(default_factory=list)
    missing: list[Gone] = field(default_factory=list)
    packed: list[Crate] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.away or self.missing)

    @property
    def words(self) -> list[str]:
        """Each part in words, for a refusal or a reason."""
        said = [f"missing: {gone.missing_words}, crate {gone.line.crate.number}" for gone in self.missing]
        for gone in self.away:
            where = f" at {gone.out.place}" if gone.out else ""
            said.append(f"counted out: {gone.away_words}{where}, crate {gone.line.crate.number}")
        return said


@dataclass(frozen=True, slots=True)
class CrateRow:
    """One crate in the list of its instrument."""

    crate: Crate
    of_set: OfSet
    lines: list[CrateLine]

    @property
    def parts(self) -> int:
        return sum(line.count for line in self.lines)

    @property
    def away(self) -> int:
        return sum(line.away for line in self.lines)

    @property
    def missing(self) -> int:
        return sum(line.missing for line in self.lines)


@dataclass(frozen=True, slots=True)
class OpenCrate:
    """Everything a crate's page shows."""

    row: CrateRow
    gone: list[Gone]
    history: list[CrateMove]
    last_count: CrateMove | None

    @property
    def crate(self) -> Crate:
        return self.row.crate

    @property
    def seen(self) -> int:
        return self.last_count.pk if self.last_count else 0

    @property
    def to_go_out(self) -> list[CrateLine]:
        return [line for line in self.row.lines if line.here]

    @property
    def to_come_in(self) -> list[CrateLine]:
        return [line for line in self.row.lines if line.gone]

    @property
    def to_count(self) -> list[CrateLine]:
        return [line for line in self.row.lines if line.count - line.away]


def number_in(typed: str) -> int | None:
    """The number of a crate in what was typed or scanned: the number itself, or the address on its tag.

    >>> [number_in(typed) for typed in (" 0031 ", "http://shop.example/crates/31/", "CRATE 31", "x", "0")]
    [31, 31, 31, None, None]
    """
    found = _NUMBER.fullmatch(re.sub(r"^\s*crate\s*", "", typed.strip(), flags=re.IGNORECASE))
    return int(found[1]) or None if found else None


def crate_or_404(number: int) -> Crate:
    related = ("instrument", "department", "by")
    crate = Crate.objects.select_related(*related).filter(number=min(number, 10**9)).first()
    if crate is None:
        raise Http404("There is no such crate.")
    return crate


def open_crate_page(crate: Crate) -> OpenCrate:
    lines = list(crate.lines.all())
    row = CrateRow(crate, _of_sets([crate.instrument_id])[crate.pk], lines)
    return OpenCrate(
        row=row, gone=gone_of(lines), history=_history(crate.moves.all()), last_count=last_counting(crate)
    )


def crates_of(instrument: Instrument) -> list[CrateRow]:
    """Its crates by number; the emptied ones last."""
    crates = Crate.objects.filter(instrument=instrument).select_related("department")
    of_sets = _of_sets([instrument.pk])
    lines = _lines_by_crate(Q(crate__instrument=instrument))
    rows = [CrateRow(crate, of_sets[crate.pk], lines[crate.pk]) for crate in crates]
    return sorted(rows, key=lambda row: row.crate.state == Crate.State.EMPTIED)


def missing_of(instrument: Instrument) -> Missing:
    """What has to be asked before assembly and before leaving, in three queries at most."""
    lines = list(
        CrateLine.objects.filter(crate__instrument=instrument, count__gt=0)
        .exclude(crate__state=Crate.State.EMPTIED, away=0, missing=0)
        .select_related("crate")
        .order_by("crate__number", "pk")
    )
    gone = gone_of([line for line in lines if line.gone])
    packed = {line.crate.pk: line.crate for line in lines if line.here and line.crate.state != "emptied"}
    return Missing(
        away=[one for one in gone if one.line.away],
        missing=[one for one in gone if one.line.missing],
        packed=list(packed.values()),
    )


def latest_moves(instrument: Instrument) -> list[CrateMove]:
    return _history(CrateMove.objects.filter(crate__instrument=instrument))[:HISTORY]


def crates_in_use() -> list[Crate]:
    """Those last touched first: what one most likely looks for."""
    crates = Crate.objects.in_use().select_related("instrument", "department")
    counted = crates.annotate(gone=Count("lines", filter=Q(lines__away__gt=0) | Q(lines__missing__gt=0)))
    return list(counted.order_by("number"))


def known_places() -> list[str]:
    places = CrateMove.objects.exclude(place="").exclude(kind="out").order_by("place")
    return list(places.values_list("place", flat=True).distinct()[:60])


def known_outside() -> list[str]:
    """Where parts went before, to choose from instead of writing it a second way."""
    places = CrateMove.objects.filter(kind="out").exclude(place="").order_by("place")
    return list(places.values_list("place", flat=True).distinct()[:60])


def _of_sets(instruments: Sequence[int]) -> dict[int, OfSet]:
    """Counted over all crates that a set ever had, so that a tag stays true when one is emptied."""
    together: dict[tuple[int, str], list[int]] = defaultdict(list)
    rows = Crate.objects.filter(instrument__in=instruments).order_by("number")
    for pk, instrument, name in rows.values_list("pk", "instrument_id", "set_name"):
        together[instrument, name.casefold()].append(pk)
    return {pk: OfSet(at, len(pks)) for pks in together.values() for at, pk in enumerate(pks, start=1)}


def _lines_by_crate(which: Q) -> dict[int, list[CrateLine]]:
    lines: dict[int, list[CrateLine]] = defaultdict(list)
    for line in CrateLine.objects.filter(which).order_by("pk"):
        lines[line.crate_id].append(line)
    return lines


def gone_of(lines: Iterable[CrateLine]) -> list[Gone]:
    """Each part that is gone with when it was last counted out, and when it was last looked for."""
    gone = [line for line in lines if line.gone]
    if not gone:
        return []
    last: dict[tuple[int, bool], CrateMove] = {}
    told = CrateCount.objects.filter(line__in=gone, move__kind__in=["out", "in", "counted", "right"])
    for count in told.select_related("move__by", "move__second").order_by("pk"):
        last[count.line_id, count.move.kind == "out"] = count.move
    return [Gone(line, last.get((line.pk, True)), last.get((line.pk, False))) for line in gone]


def _history(moves: Any) -> list[CrateMove]:
    related = ("by", "second", "department", "tablet", "crate")
    return list(moves.select_related(*related).prefetch_related("counts__line").order_by("-pk")[:HISTORY])
