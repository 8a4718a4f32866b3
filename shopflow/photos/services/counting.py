"""Counting the parts of an instrument as they lie on its photos: one tap, one line in each crate's ledger."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping
from typing import Any

from django.db import transaction

from shopflow.common.refusals import Refused
from shopflow.instruments.crate_words import words_of
from shopflow.instruments.models import CrateLine, CrateMove
from shopflow.instruments.services import crates
from shopflow.people.models import Person
from shopflow.people.taps import TapIn


@transaction.atomic
def count_out(
    *, lines: list[CrateLine], counts: Mapping[int, int], by: Person, tap: TapIn, **said: Any
) -> str:
    """Count parts out as they lie on the photos: one line in the ledger of each crate, one tap."""
    return _each_crate(
        lines, {pk: count for pk, count in counts.items() if count}, crates.count_out, by=by, tap=tap, **said
    )


@transaction.atomic
def count_in(
    *, lines: list[CrateLine], counts: Mapping[int, int], by: Person, tap: TapIn, **said: Any
) -> str:
    """Count in what came back, crate by crate with one tap."""
    return _each_crate(lines, counts, crates.count_in, by=by, tap=tap, partly=True, **said)


def _each_crate(
    lines: list[CrateLine], counts: Mapping[int, int], deed: Callable[..., CrateMove], **said: Any
) -> str:
    if not counts:
        raise Refused("Nothing is counted. Write down how many of each part.")
    by_crate: dict[Any, dict[int, int]] = defaultdict(dict)
    for line in lines:
        if line.pk in counts:
            by_crate[line.crate][line.pk] = counts[line.pk]
    moves = [deed(crate=crate, counts=some, seen=None, **said) for crate, some in by_crate.items()]
    return " ".join(words_of(move) for move in moves)
