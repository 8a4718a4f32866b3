"""Making crates, packing parts into them, moving, opening and emptying them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass

from django.db import IntegrityError, transaction
from django.db.models import Max

from shopflow.catalogue.models import Department
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Crate, CrateLine, CrateMove, Instrument
from shopflow.instruments.models.crates import BIGGEST_NUMBER, MOST_PARTS
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.people.taps import TapIn

from .book import Act, Counted, write, written_before
from .tally import Kind

TRIES = 5
MOST_KINDS = 60


@dataclass(frozen=True, slots=True)
class Part:
    """Parts of one kind on their way into a crate."""

    name: str
    count: int
    note: str = ""


def next_number() -> int:
    """The next number that no tag of the shop bears."""
    return (Crate.objects.aggregate(last=Max("number"))["last"] or 0) + 1


def make_crate(
    *,
    instrument: Instrument,
    set_name: str,
    by: Person,
    tap: TapIn,
    number: int | None = None,
    place: str = "",
    department: Department | None = None,
    parts: Sequence[Part] = (),
) -> Crate:
    """Give some parts of an instrument a crate with a number of its own, once for this tap."""
    access.require(by, Deed.CRATES)
    set_name = _as_written_before(instrument, set_name)
    body = {
        "instrument": instrument.pk,
        "set": set_name,
        "number": number,
        "place": place,
        "department": department.pk if department else None,
        "parts": [asdict(part) for part in parts],
    }
    act = Act(Kind.PACKED, by, tap, body, place=place, department=department)
    for _ in range(TRIES):
        try:
            return _make(instrument, set_name, number, act, parts)
        except IntegrityError:
            # Two at once wanted the same free number.
            continue
    raise Refused("Too many crates are being made at once. Try again.")


@transaction.atomic
def _make(
    instrument: Instrument, set_name: str, number: int | None, act: Act, parts: Sequence[Part]
) -> Crate:
    # A form sent twice at once: the second waits here and then finds what the first has written.
    Instrument.objects.select_for_update().get(pk=instrument.pk)
    known = written_before(act, CrateMove.objects.filter(crate__instrument=instrument))
    if known is not None:
        return known.crate
    number = number or next_number()
    if number > BIGGEST_NUMBER or Crate.objects.filter(number=number).exists():
        taken = f"Crate {number} is there already" if number <= BIGGEST_NUMBER else f"{number} is too large"
        raise Refused(f"{taken}. The next free number is {next_number()}.", field="number")
    crate = Crate.objects.create(instrument=instrument, number=number, set_name=set_name, by=act.by)
    write(crate, act, lambda _, __: [_packed(crate, {}, part) for part in parts])
    crate.refresh_from_db()
    return crate


def pack(*, crate: Crate, part: Part, by: Person, tap: TapIn) -> CrateMove:
    """Put parts into a crate, once for this tap; more of the same kind are added to their line."""
    act = Act(Kind.PACKED, by, tap, {"crate": crate.pk, "part": asdict(part)})
    return write(crate, act, lambda there, lines: [_packed(there, lines, part)])


def move_crate(
    *, crate: Crate, by: Person, tap: TapIn, place: str = "", department: Department | None = None
) -> CrateMove:
    """Say where a crate stands now."""
    if not place and department is None:
        raise Refused("Say where it goes: a place, a department, or both.", field="place")
    body = {"crate": crate.pk, "place": place, "department": department.pk if department else None}
    return write(crate, Act(Kind.MOVED, by, tap, body, place=place, department=department), _in_use)


def open_crate(*, crate: Crate, by: Person, tap: TapIn) -> CrateMove:
    """Say that a crate stands open on a bench."""
    return write(crate, Act(Kind.OPENED, by, tap, {"crate": crate.pk}), _in_use)


def empty_crate(*, crate: Crate, by: Person, tap: TapIn, seen: int) -> CrateMove:
    """Say that all parts went back into their instrument; refused while one of them is gone."""
    return write(crate, Act(Kind.EMPTIED, by, tap, {"crate": crate.pk}, seen=seen), _nothing_gone)


def _packed(crate: Crate, lines: dict[int, CrateLine], part: Part) -> Counted:
    if not 1 <= part.count <= MOST_PARTS:
        raise Refused(f"Got {part.count} × “{part.name}”; allowed is 1 to {MOST_PARTS}.", field="count")
    line = _line_for(crate, lines, part)
    if line.count + part.count > MOST_PARTS:
        raise Refused(
            f"There are {line.count} × “{line.name}” in crate {crate.number} already; allowed together are"
            f" {MOST_PARTS}.",
            field="count",
        )
    return line, part.count, part.count


def _line_for(crate: Crate, lines: dict[int, CrateLine], part: Part) -> CrateLine:
    for line in lines.values():
        if (line.name.casefold(), line.note) == (part.name.casefold(), part.note):
            return line
    if len(lines) >= MOST_KINDS:
        raise Refused(f"Crate {crate.number} holds {MOST_KINDS} kinds of parts; take another crate.")
    return CrateLine.objects.create(crate=crate, name=part.name, note=part.note)


def _in_use(crate: Crate, _: dict[int, CrateLine]) -> list[Counted]:
    if crate.state == Crate.State.EMPTIED:
        raise Refused(f"Crate {crate.number} is emptied. Pack something into it first.")
    return []


def _nothing_gone(crate: Crate, lines: dict[int, CrateLine]) -> list[Counted]:
    _in_use(crate, lines)
    gone = [f"{line.gone} of {line.count} × {line.name}" for line in lines.values() if line.gone]
    if gone:
        raise Refused(
            f"Not everything that belongs in crate {crate.number} is here: {', '.join(gone)}."
            " Count it in, or put the count right with a reason."
        )
    return []


def _as_written_before(instrument: Instrument, set_name: str) -> str:
    """“Hardware” and “hardware” are one set: the spelling that came first stays."""
    known = instrument.crates.order_by("number").values_list("set_name", flat=True)
    return next((name for name in known if name.casefold() == set_name.casefold()), set_name)
