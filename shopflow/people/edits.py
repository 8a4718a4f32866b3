"""Two people change the same thing: the second sees both versions and decides; nothing is lost unseen."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any

Facts = Mapping[str, Any]


class ChangedMeanwhile(Exception):
    """Someone else saved first: `now` stands in the shop, `wanted` was typed."""

    def __init__(self, now: Facts, wanted: Facts) -> None:
        self.now, self.wanted = now, wanted
        super().__init__("Someone else changed this while you were typing. Nothing of yours was saved yet.")

    def differing(self) -> Facts:
        """Of what stands in the shop, that which differs from what was typed."""
        return {name: fact for name, fact in self.now.items() if fact != self.wanted.get(name)}


def mark_of(facts: Facts) -> str:
    """A short mark that differs whenever any of the facts does."""
    plain = json.dumps(facts, sort_keys=True)
    return hashlib.sha256(plain.encode()).hexdigest()[:20]


def refuse_stale(*, now: Facts, wanted: Facts, seen: str) -> None:
    """Go on when `now` is the version that was seen, or when there is nothing left to change."""
    if seen != mark_of(now) and wanted != now:
        raise ChangedMeanwhile(now, wanted)
