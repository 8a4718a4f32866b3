"""Two people change the same thing: the second sees both versions and decides; nothing is lost unseen."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

Facts = Mapping[str, Any]


class ChangedMeanwhile(Exception):
    """Someone else saved first; `now` is what stands in the shop."""

    def __init__(self, now: Facts) -> None:
        self.now = now
        super().__init__("Someone else changed this while you were typing. Nothing of yours was saved yet.")


def mark_of(facts: Facts) -> str:
    """A short mark that differs whenever any of the facts does."""
    plain = json.dumps(facts, sort_keys=True, default=str)
    return hashlib.sha256(plain.encode()).hexdigest()[:20]


def refuse_stale(*, now: Facts, wanted: Facts, seen: str) -> None:
    """Go on when this is the version that was seen, or when there is nothing left to change."""
    if seen != mark_of(now) and mark_of(wanted) != mark_of(now):
        raise ChangedMeanwhile(now)


def differences(*, now: Facts, wanted: Facts) -> list[str]:
    return [name for name in now if mark_of({"": now[name]}) != mark_of({"": wanted.get(name)})]
