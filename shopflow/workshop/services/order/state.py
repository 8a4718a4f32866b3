"""What the state of the piano says to work that wants to begin."""

from __future__ import annotations

from functools import lru_cache

from shopflow.compute.worknet import Knowledge
from shopflow.workshop.selectors.stay import Stay


def in_the_way(code: str, stay: Stay, known: Knowledge) -> tuple[str, ...]:
    """Sentences of what stands in the way of this operation, as the piano is now; empty: it may begin."""
    present = stay.among(known.codes)
    return _asked(known, code, present.done, tuple(sorted({*present.todo, code})))


@lru_cache(maxsize=8192)
def _asked(known: Knowledge, code: str, done: tuple[str, ...], todo: tuple[str, ...]) -> tuple[str, ...]:
    """The same piano is asked about again and again until something is signed."""
    return tuple(known.may_start(code, done, todo))
