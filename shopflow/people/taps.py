"""What a device says of one tap: its key, its own clock, and which device it is."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from shopflow.common import clock
from shopflow.common.refusals import Refused

from .models import Person, Tablet

_KEY = re.compile(r"[A-Za-z0-9_-]{8,64}")
LATE_AFTER = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class TapIn:
    """One act on a device, with a key of its own so that it counts once."""

    key: str
    client: str
    tapped_at: datetime
    tablet: Tablet | None = None

    @classmethod
    def of(
        cls, *, key: str, by: Person, tablet: Tablet | None = None, tapped_at: datetime | None = None
    ) -> TapIn:
        if not _KEY.fullmatch(key):
            raise BadKey(key)
        client = f"tablet:{tablet.pk}" if tablet else f"person:{by.pk}"
        return cls(key=key, client=client, tapped_at=tapped_at or clock.now(), tablet=tablet)

    @property
    def clock_is_off_by(self) -> timedelta:
        """How far the device's clock is ahead of ours; a late tap is behind, so only "ahead" is a fault."""
        return self.tapped_at - clock.now()


class BadKey(ValueError):
    def __init__(self, key: str) -> None:
        super().__init__(
            f"A tap's key is 8 to 64 letters, digits, hyphens and underscores; got {len(key)} characters."
        )


class KeyUsedTwice(Refused):
    """The same key came with another body."""

    def __init__(self) -> None:
        super().__init__("This tap's key was already used for something else. Nothing was changed.")


def fingerprint(body: Mapping[str, Any]) -> str:
    """A mark of what a tap asked for: the same key has to come with the same one."""
    plain = json.dumps(body, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(plain.encode("utf-8", "surrogatepass")).hexdigest()
