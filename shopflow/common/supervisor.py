"""Keeps the processes of one shop running: starts them in order, revives what dies, stops them in order.

Stopping never loses work: web pages finish their answers, the worker finishes or drops its job (which the
next start takes up again, see jobs.py), and the broker goes last.
"""

from __future__ import annotations

import ctypes
import logging
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

log = logging.getLogger(__name__)

ROOT = Path(__file__).resolve().parents[2]
LOOK_EVERY_S = 0.2
FIRST_WAIT_S = 0.5
LONGEST_WAIT_S = 30.0
# Whoever ran this long before falling over has earned a quick restart.
STEADY_AFTER_S = 60.0
PR_SET_PDEATHSIG = 1
LIBC = ctypes.CDLL(None) if sys.platform == "linux" else None


@dataclass
class Part:
    """One process of the shop, and how long it may take to put its work down."""

    name: str
    command: Sequence[str]
    grace_s: float
    environment: Mapping[str, str] = field(default_factory=dict)
    process: subprocess.Popen[bytes] | None = None
    started_at: float = 0.0
    wait_s: float = FIRST_WAIT_S
    due_at: float = 0.0

    def start(self) -> None:
        self.process = subprocess.Popen(
            self.command,
            cwd=ROOT,
            env={**os.environ, **self.environment},
            stdin=subprocess.DEVNULL,
            # A session of its own: Ctrl-C reaches only the supervisor, which then stops the parts in order.
            start_new_session=True,
            preexec_fn=_die_with_parent if LIBC else None,
        )
        self.started_at = time.monotonic()

    def is_alive(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def look(self) -> None:
        """Start the process again when it has died, later each time it dies soon after a start."""
        now = time.monotonic()
        if self.process is not None and self.process.poll() is not None:
            self.note_death(now)
        if self.process is None and now >= self.due_at:
            self.start()

    def note_death(self, now: float) -> None:
        assert self.process is not None
        steady = now - self.started_at >= STEADY_AFTER_S
        self.wait_s = FIRST_WAIT_S if steady else min(self.wait_s * 2, LONGEST_WAIT_S)
        log.warning(
            "%s stopped by itself (%s); starting it again in %.0f s",
            self.name,
            self.process.returncode,
            self.wait_s,
        )
        # Children that a killed process left behind go with it.
        self.kill_group()
        self.process, self.due_at = None, now + self.wait_s

    def stop(self) -> None:
        """Ask, wait for as long as this part may take, then insist."""
        if self.process is None:
            return
        self.process.terminate()
        try:
            self.process.wait(self.grace_s)
        except subprocess.TimeoutExpired:
            log.warning("%s did not stop within %.0f s and is ended", self.name, self.grace_s)
        self.kill_group()
        self.process.wait()
        self.process = None

    def kill_group(self) -> None:
        assert self.process is not None
        with suppress(ProcessLookupError):  # all gone already: the usual case
            os.killpg(self.process.pid, signal.SIGKILL)


class Supervisor:
    """Runs parts until somebody wants an end; the last to start is the first to stop."""

    def __init__(self) -> None:
        self.parts: list[Part] = []
        self.stopping = False

    def __enter__(self) -> Supervisor:
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            signal.signal(number, self._note_stop)
        return self

    def __exit__(self, *_: object) -> None:
        for part in reversed(self.parts):
            part.stop()

    def add(self, part: Part) -> None:
        part.start()
        self.parts.append(part)

    def drop(self, part: Part) -> None:
        part.stop()
        self.parts.remove(part)

    def run(self, until: Callable[[], bool] = lambda: False) -> bool:
        """Look after the parts until `until` holds (True) or somebody wants an end (False)."""
        while not self.stopping:
            for part in self.parts:
                part.look()
            if until():
                return True
            time.sleep(LOOK_EVERY_S)
        return False

    def _note_stop(self, number: int, frame: FrameType | None) -> None:
        self.stopping = True


def _die_with_parent() -> None:
    """Linux: the kernel ends this child when the supervisor is killed, so that nothing runs on unseen."""
    assert LIBC is not None
    LIBC.prctl(PR_SET_PDEATHSIG, signal.SIGTERM)
