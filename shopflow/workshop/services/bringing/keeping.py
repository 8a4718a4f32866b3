"""A file waits on the server between the look and the deed: under a key nobody can guess, for one person."""

from __future__ import annotations

import json
import re
import secrets
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import NamedTemporaryFile

from django.conf import settings

from shopflow.common import clock
from shopflow.people.models import Person

KEEP_SECONDS = 24 * 3600
_KEY = re.compile(r"[A-Za-z0-9_-]{32}")


@dataclass(frozen=True, slots=True)
class Kept:
    key: str
    name: str
    data: bytes


def keep(*, data: bytes, name: str, by: Person) -> str:
    """Put a file away and give its key: 192 random bits, of use to this person only."""
    forget_old()
    key = secrets.token_urlsafe(24)
    head = json.dumps({"name": name[-80:]}).encode()
    # Whole before it has its name, and readable by the shop's own process alone.
    with NamedTemporaryFile(dir=_folder(), prefix="coming-", delete=False) as file:
        file.write(head + b"\n" + data)
    Path(file.name).replace(_path(key, by))
    return key


def kept(key: str, *, by: Person) -> Kept | None:
    """The file of this key, if this person put it there within a day."""
    if not _KEY.fullmatch(key):
        return None
    path = _path(key, by)
    try:
        if _age(path) > KEEP_SECONDS:
            return None
        head, _, data = path.read_bytes().partition(b"\n")
    except FileNotFoundError:
        return None
    return Kept(key, json.loads(head)["name"], data)


def forget(key: str, *, by: Person) -> None:
    """Take the file away; it does no harm if it is gone."""
    if _KEY.fullmatch(key):
        _path(key, by).unlink(missing_ok=True)


def forget_old() -> int:
    """Take away whatever nobody came back for within a day."""
    gone = 0
    for path in _folder().iterdir():
        # Another process may be taking it away at this moment.
        with suppress(FileNotFoundError):
            if _age(path) > KEEP_SECONDS:
                path.unlink()
                gone += 1
    return gone


def _age(path: Path) -> float:
    return clock.now().timestamp() - path.stat().st_mtime


def _path(key: str, by: Person) -> Path:
    return _folder() / f"{by.pk}-{key}"


def _folder() -> Path:
    folder = Path(settings.DATA_DIR) / "bringing"
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder
