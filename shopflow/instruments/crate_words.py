"""What was done with a crate, in words for the one who did it."""

from __future__ import annotations

from .models import CrateCount, CrateMove


def words_of(move: CrateMove) -> str:
    """One line for the status line of a tablet."""
    say = _SAID.get(move.kind, _plain)
    return f"Crate {move.crate.number}: {say(move)}"


def _plain(move: CrateMove) -> str:
    return f"{move.get_kind_display()}."


def _packed(move: CrateMove) -> str:
    parts = ", ".join(f"{count.count} × {count.line.name}" for count in _counts(move))
    return f"{parts} packed."


def _moved(move: CrateMove) -> str:
    where = ", ".join(part for part in (str(move.department or ""), move.place) if part)
    return f"now at {where}."


def _out(move: CrateMove) -> str:
    return f"{_total(move)} counted out to {move.place}, by {move.by.name} and {move.second_name}."


def _in(move: CrateMove) -> str:
    lacking = [count for count in _counts(move) if count.lacking]
    said = f"{_total(move)} counted in, by {move.by.name} and {move.second_name}."
    if not lacking:
        return f"{said} Everything is back."
    return f"{said} {'Still there' if move.rest_follows else 'Missing'}: {_lacking(move)}."


def _over(move: CrateMove) -> str:
    lacking = _lacking(move)
    return f"counted over. {f'Missing: {lacking}.' if lacking else 'Everything is there.'}"


def _right(move: CrateMove) -> str:
    count = _counts(move)[0]
    return f"{count.line.name} put right, {count.expected} to {count.count}."


def _counts(move: CrateMove) -> list[CrateCount]:
    return list(move.counts.select_related("line"))


def _total(move: CrateMove) -> str:
    total = sum(count.count for count in _counts(move))
    return "1 part" if total == 1 else f"{total} parts"


def _lacking(move: CrateMove) -> str:
    return ", ".join(
        f"{count.lacking} of {count.expected} × {count.line.name}" for count in _counts(move) if count.lacking
    )


_SAID = {"packed": _packed, "moved": _moved, "out": _out, "in": _in, "counted": _over, "right": _right}
