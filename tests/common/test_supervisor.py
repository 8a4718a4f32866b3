"""Real small processes, looked after as the shop's are: revived, stopped in order, never left behind."""

from __future__ import annotations

import os
import signal
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from shopflow.common import supervisor
from shopflow.common.supervisor import Part, Supervisor

SLEEPS = "import time; time.sleep(60)"
IGNORES = (
    "import signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); print(flush=True); time.sleep(60)"
)


@pytest.fixture
def kept() -> Iterator[Supervisor]:
    """A supervisor whose parts are stopped and whose signal handlers are taken back, whatever happens."""
    numbers = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
    before = {number: signal.getsignal(number) for number in numbers}
    with Supervisor() as made:
        yield made
    for number, handler in before.items():
        signal.signal(number, handler)


def part(name: str, program: str, *, grace_s: float = 5) -> Part:
    return Part(name, [sys.executable, "-c", program], grace_s=grace_s)


def pid(of: Part) -> int:
    assert of.process is not None
    return of.process.pid


def is_there(number: int) -> bool:
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    return True


def eventually(holds: Callable[[], bool], patience_s: float = 10) -> bool:
    deadline = time.monotonic() + patience_s
    while not holds() and time.monotonic() < deadline:
        time.sleep(0.02)
    return holds()


def test_a_part_that_is_killed_is_started_again(kept: Supervisor) -> None:
    web = part("web", SLEEPS)
    kept.add(web)
    first = pid(web)
    os.kill(first, signal.SIGKILL)
    assert kept.run(until=lambda: web.is_alive() and pid(web) != first)


def test_each_early_death_makes_the_next_start_wait_longer_and_a_steady_part_begins_anew() -> None:
    web = part("web", "raise SystemExit(3)")
    waits = []
    for _ in range(8):
        web.start()
        assert web.process is not None
        web.process.wait()
        web.note_death(web.started_at + 1)
        waits.append(web.wait_s)
    assert waits == [1, 2, 4, 8, 16, 30, 30, 30]
    web.start()
    assert web.process is not None
    web.process.wait()
    web.note_death(web.started_at + supervisor.STEADY_AFTER_S)
    assert web.wait_s == supervisor.FIRST_WAIT_S


def test_the_last_to_start_is_the_first_to_stop(tmp_path: Path, kept: Supervisor) -> None:
    diary = tmp_path / "diary"
    says_when_it_ends = (
        "import signal, sys, time, pathlib\n"
        "def end(*_):\n"
        f"    with open({str(diary)!r}, 'a') as book: book.write(sys.argv[1] + ' ')\n"
        "    raise SystemExit\n"
        "signal.signal(signal.SIGTERM, end)\n"
        f"pathlib.Path({str(tmp_path)!r}, sys.argv[1]).touch()\n"
        "time.sleep(60)\n"
    )
    names = ["broker", "worker", "web"]
    for name in names:
        kept.add(Part(name, [sys.executable, "-c", says_when_it_ends, name], grace_s=5))
    assert eventually(lambda: all((tmp_path / name).exists() for name in names))
    kept.__exit__()
    assert diary.read_text().split() == ["web", "worker", "broker"]


def test_a_part_that_will_not_stop_is_ended_after_its_grace(
    tmp_path: Path, kept: Supervisor, caplog: pytest.LogCaptureFixture
) -> None:
    ready = tmp_path / "ready"
    ignores = (
        "import pathlib, signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN);"
        f"pathlib.Path({str(ready)!r}).touch(); time.sleep(60)"
    )
    deaf = part("worker", ignores, grace_s=0.3)
    kept.add(deaf)
    number = pid(deaf)
    assert eventually(ready.exists)
    began = time.monotonic()
    deaf.stop()
    assert not is_there(number)
    assert time.monotonic() - began < 3
    assert "worker did not stop within" in caplog.text


def test_children_of_a_killed_part_are_not_left_behind(tmp_path: Path, kept: Supervisor) -> None:
    note = tmp_path / "child"
    program = (
        f"import subprocess, sys, time; child = subprocess.Popen([sys.executable, '-c', {SLEEPS!r}]); "
        f"open({str(note)!r}, 'w').write(str(child.pid) + ' '); time.sleep(60)"
    )
    worker = part("worker", program)
    kept.add(worker)
    assert eventually(lambda: note.exists() and note.read_text().endswith(" "))
    child = int(note.read_text())
    os.kill(pid(worker), signal.SIGKILL)
    assert kept.run(until=lambda: worker.process is None)
    assert eventually(lambda: not is_there(child) or _is_dead_but_unread(child))


def _is_dead_but_unread(number: int) -> bool:
    try:
        return Path(f"/proc/{number}/stat").read_text().rsplit(")", 1)[1].split()[0] == "Z"
    except FileNotFoundError:
        return True


def test_a_call_to_stop_ends_the_watch(kept: Supervisor) -> None:
    kept.add(part("web", SLEEPS))
    os.kill(os.getpid(), signal.SIGTERM)
    assert kept.run() is False
