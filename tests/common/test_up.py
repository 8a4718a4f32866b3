"""The README's one command, run as a person runs it, in a data folder of its own."""

from __future__ import annotations

import http.client
import os
import signal
import socket
import stat
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from shopflow.common.bootstrap import ROOT

pytestmark = [
    pytest.mark.background,
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform != "linux", reason="reads /proc"),
]


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as ear:
        return int(ear.getsockname()[1])


class Shop:
    """One `up` and whatever belongs to its data folder."""

    def __init__(self, data_dir: Path) -> None:
        self.data_dir = data_dir
        self.port = free_port()
        self.log = data_dir.with_suffix(".log")
        self.process: subprocess.Popen[bytes] | None = None

    def command(self, *more: str) -> list[str]:
        return [sys.executable, "manage.py", "up", "--no-demo", "--port", str(self.port), *more]

    @property
    def environment(self) -> dict[str, str]:
        mine = {"SHOPFLOW_DATA": str(self.data_dir), "DJANGO_SETTINGS_MODULE": "shopflow.settings"}
        mine |= {"SHOPFLOW_SECRET_KEY": "", "SHOPFLOW_NO_VENV": "1"}
        return os.environ | mine

    def open(self) -> None:
        with self.log.open("w") as log:
            self.process = subprocess.Popen(
                self.command(), cwd=ROOT, env=self.environment, stdout=log, stderr=subprocess.STDOUT
            )
        assert eventually(lambda: "The shop is open" in self.log.read_text()), self.log.read_text()

    def send(self, number: int) -> int:
        assert self.process is not None
        self.process.send_signal(number)
        return self.process.wait(40)

    def answers(self) -> bool:
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)
        try:
            line.request("GET", "/")
            return line.getresponse().status < 500
        except OSError:
            return False
        finally:
            line.close()

    def processes(self, about: str = "") -> list[int]:
        """Every living process that was given this data folder."""
        mark = f"SHOPFLOW_DATA={self.data_dir}".encode()
        return [int(entry.name) for entry in Path("/proc").iterdir() if _belongs(entry, mark, about.encode())]


def _belongs(entry: Path, mark: bytes, about: bytes) -> bool:
    try:
        words = (entry / "cmdline").read_bytes()
        return bool(words) and about in words and mark in (entry / "environ").read_bytes().split(b"\0")
    except (OSError, ValueError):
        return False


def eventually(holds: Callable[[], bool], patience_s: float = 60) -> bool:
    deadline = time.monotonic() + patience_s
    while not holds() and time.monotonic() < deadline:
        time.sleep(0.1)
    return holds()


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    made = Shop(tmp_path / "shop")
    yield made
    if made.process and made.process.poll() is None:
        made.send(signal.SIGTERM)
    for left_over in made.processes():
        os.kill(left_over, signal.SIGKILL)


def test_the_shop_opens_closes_on_ctrl_c_and_opens_again(shop: Shop) -> None:
    shop.open()
    assert shop.answers()
    assert f"http://127.0.0.1:{shop.port}/" in shop.log.read_text()
    key = shop.data_dir / "secret-key"
    first_key = key.read_text()
    assert stat.S_IMODE(key.stat().st_mode) == 0o600
    assert stat.S_IMODE(shop.data_dir.stat().st_mode) == 0o700

    began = time.monotonic()
    assert shop.send(signal.SIGINT) == 0
    assert time.monotonic() - began < 10
    assert shop.processes() == []
    assert "Traceback" not in shop.log.read_text()

    shop.open()
    assert key.read_text() == first_key, "whoever was signed in still is"


def test_a_second_shop_in_the_same_folder_is_told_where_the_first_is(shop: Shop) -> None:
    shop.open()
    answer = subprocess.run(
        shop.command(), cwd=ROOT, env=shop.environment, capture_output=True, text=True, check=False
    )
    assert answer.returncode == 1
    assert f"open already, at http://127.0.0.1:{shop.port}/" in answer.stderr
    assert shop.answers()


def test_a_taken_port_is_told_with_one_to_try_instead(shop: Shop) -> None:
    with socket.create_server(("127.0.0.1", shop.port)):
        answer = subprocess.run(
            shop.command(), cwd=ROOT, env=shop.environment, capture_output=True, text=True, check=False
        )
    assert answer.returncode == 1
    assert f"--port {shop.port + 1}" in answer.stderr
    assert "Traceback" not in answer.stderr


@pytest.mark.parametrize("part", ["uvicorn", "worker", "beat"])
def test_a_killed_part_comes_back(shop: Shop, part: str) -> None:
    shop.open()
    before = shop.processes(part)
    assert before
    for number in before:
        os.kill(number, signal.SIGKILL)
    assert eventually(lambda: bool(set(shop.processes(part)) - set(before)) and shop.answers())


def test_nothing_runs_on_unseen_when_up_itself_is_killed(shop: Shop) -> None:
    shop.open()
    shop.send(signal.SIGKILL)
    assert eventually(lambda: shop.processes() == [], patience_s=20)
    shop.open()
    assert shop.answers()
