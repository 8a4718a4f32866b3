"""Counting out of the house and in again with two names, counting over, putting a count right."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from shopflow.common.refusals import Refused
from shopflow.instruments.models import Crate, CrateLine, CrateMove
from shopflow.instruments.models.crates import MOST_PARTS
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.people.taps import TapIn

from .book import Act, Count, Counted, write
from .tally import Kind

Counts = Mapping[int, int]


def count_out(
    *,
    crate: Crate,
    counts: Counts,
    to: str,
    by: Person,
    tap: TapIn,
    seen: int | None,
    second: Person | None = None,
    second_outside: str = "",
) -> CrateMove:
    """Count parts out of the house, signed by two; `counts` by the line of each kind of part."""
    if not to:
        raise Refused("Say where the parts go.", field="to")
    _two_names(by, second, second_outside)
    going = {line: count for line, count in counts.items() if count}
    if not going:
        raise Refused("Nothing is counted. Write down how many of each part go out.")
    act = Act(
        Kind.OUT,
        by,
        tap,
        _body(crate, going, second, second_outside) | {"to": to},
        place=to,
        second=second,
        second_outside=second_outside,
        seen=seen,
    )
    return write(crate, act, _count(going, lambda line: line.here, "here"))


def count_in(
    *,
    crate: Crate,
    counts: Counts,
    by: Person,
    tap: TapIn,
    seen: int | None,
    second: Person | None = None,
    second_outside: str = "",
    rest_follows: bool = False,
    partly: bool = False,
) -> CrateMove:
    """Count what came back, signed by two. What lacks is missing, unless the rest is still there.

    All that is out has to be counted; `partly` leaves alone what was not asked for.
    """
    _two_names(by, second, second_outside)
    if rest_follows and not any(counts.values()):
        raise Refused("Nothing came back. Count again when something does.")
    act = Act(
        Kind.IN,
        by,
        tap,
        _body(crate, counts, second, second_outside) | {"rest_follows": rest_follows},
        second=second,
        second_outside=second_outside,
        rest_follows=rest_follows,
        seen=seen,
    )
    return write(crate, act, _count(counts, lambda line: line.gone, "out", every=not partly))


def count_over(
    *, crate: Crate, counts: Counts, by: Person, tap: TapIn, seen: int | None, reason: str = ""
) -> CrateMove:
    """Count what lies in a crate: what lacks is missing, what was missing and is there is found."""
    act = Act(Kind.COUNTED, by, tap, _body(crate, counts) | {"reason": reason}, reason=reason, seen=seen)
    return write(crate, act, _count(counts, lambda line: line.count - line.away, "in the house", every=True))


def put_right(*, line: CrateLine, count: int, reason: str, by: Person, tap: TapIn) -> CrateMove:
    """Say how many of a kind really belong in a crate, and why the number was another one."""
    if not reason:
        raise Refused("Say why the number was wrong; the reason is kept.", field="reason")
    if not 0 <= count <= MOST_PARTS:
        raise Refused(f"Got {count}; allowed is 0 to {MOST_PARTS}.", field="count")

    def counted(crate: Crate, lines: dict[int, CrateLine]) -> list[Counted]:
        now = lines[line.pk]
        if count < now.away:
            raise Refused(f"{now.away} × {now.name} are counted out; count them in first.", field="count")
        return [(now, count, now.count)]

    body = {"line": line.pk, "count": count, "reason": reason}
    return write(line.crate, Act(Kind.RIGHT, by, tap, body, reason=reason), counted)


def _count(counts: Counts, most: Callable[[CrateLine], int], where: str, *, every: bool = False) -> Count:
    """Holds each count against the most there can be; with `every` no part may be left uncounted."""

    def counted(crate: Crate, lines: dict[int, CrateLine]) -> list[Counted]:
        wanted = [line for line in lines.values() if line.pk in counts or (every and most(line))]
        if not wanted:
            raise Refused(f"Nothing of crate {crate.number} is {where}.")
        return [_counted(line, counts.get(line.pk), most(line), where) for line in wanted]

    return counted


def _counted(line: CrateLine, count: int | None, most: int, where: str) -> Counted:
    if count is None:
        raise Refused(f"Count every part: how many × {line.name}?", field=f"line-{line.pk}")
    if not 0 <= count <= most:
        raise Refused(
            f"Got {count} × {line.name}; {most} are {where}, so allowed is 0 to {most}.",
            field=f"line-{line.pk}",
        )
    return line, count, most


def _two_names(by: Person, second: Person | None, second_outside: str) -> None:
    """Two different people: the one who taps, and one more of the house or from outside."""
    if second is None and not second_outside:
        raise Refused("Two names are needed: choose who counts with you.", field="second")
    if second is not None and second_outside:
        raise Refused("Choose one of the house or write down someone outside, not both.", field="second")
    same = second is not None and second.pk == by.pk
    if same or second_outside.casefold() == by.name.casefold():
        raise Refused(f"Two different people have to sign; {by.name} is signed in already.", field="second")
    if second is not None and not access.may(second, Deed.CRATES):
        raise Refused(f"{second.name} may not sign for crates.", field="second")


def _body(
    crate: Crate, counts: Counts, second: Person | None = None, second_outside: str = ""
) -> dict[str, Any]:
    return {
        "crate": crate.pk,
        "counts": sorted(counts.items()),
        "second": second.pk if second else None,
        "outside": second_outside,
    }
