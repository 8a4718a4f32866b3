"""A real broker, a real worker and the clock, as separate processes on the test's database.

With CELERY_BROKER_URL set, that broker is used; otherwise the Valkey that `up` would start, and the files
that it would fall back to.
"""

from __future__ import annotations

import os
import signal
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from django.db import connection

import tests.practice.background  # noqa: F401  makes its kinds known here too
from shopflow.common import broker, jobs, parts
from shopflow.common.models import Job
from shopflow.common.supervisor import Part

pytestmark = [pytest.mark.background, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
PATIENCE_S = 40.0


@dataclass
class House:
    """The processes of one small shop; whatever a test leaves running is stopped after it."""

    data_dir: Path
    url: str
    running: list[Part] = field(default_factory=list)

    @property
    def environment(self) -> dict[str, str]:
        return {
            "CELERY_BROKER_URL": self.url,
            "DJANGO_SETTINGS_MODULE": "tests.practice.settings",
            "PRACTICE_DATABASE": str(connection.settings_dict["NAME"]),
            "SHOPFLOW_DATA": str(self.data_dir),
        }

    def start(self, part: Part) -> Part:
        part.start()
        self.running.append(part)
        return part

    def open(self) -> Part:
        self.start(parts.clock(self.data_dir, self.environment))
        return self.start(parts.worker(self.environment))

    def close(self) -> None:
        for part in reversed(self.running):
            part.stop()


def kill_all_of(part: Part) -> None:
    """As the kernel does when memory runs out: the worker and every hand of it, without a word."""
    assert part.process is not None
    os.killpg(part.process.pid, signal.SIGKILL)
    part.process.wait()


@pytest.fixture(params=["broker", "files"])
def house(request: pytest.FixtureRequest, tmp_path: Path, settings: Any) -> Iterator[House]:
    given = os.environ.get("CELERY_BROKER_URL", "")
    if given and request.param == "files":
        pytest.skip("a broker was named")
    with tempfile.TemporaryDirectory(prefix="shop-") as short:
        made = House(tmp_path, given or broker.FILES)
        if not given and request.param == "broker":
            made.url = valkey(made, Path(short) / "broker")
        settings.CELERY_BROKER_URL = made.url
        settings.CELERY_BROKER_TRANSPORT_OPTIONS = broker.transport_options(made.url, tmp_path)
        yield made
        made.close()


def valkey(house: House, socket_file: Path) -> str:
    program = broker.valkey_program()
    assert program, "the pinned library no longer brings its server where we look for it"
    server = house.start(parts.valkey(program, socket_file, house.data_dir))
    assert broker.comes_up(socket_file, server.is_alive)
    return broker.socket_url(socket_file)


def eventually(holds: Callable[[], bool]) -> bool:
    deadline = time.monotonic() + PATIENCE_S
    while not holds() and time.monotonic() < deadline:
        time.sleep(0.05)
    return holds()


def struck(diary: Path) -> list[tuple[str, int]]:
    if not diary.exists():
        return []
    return [(hand, int(key)) for hand, key in (line.split() for line in diary.read_text().splitlines())]


def hand_over(diary: Path, *, keys: int, pause_s: float) -> Job:
    return jobs.enqueue("practice-strike", keys=keys, pause_s=pause_s, diary=str(diary))


def state_of(job: Job) -> str:
    job.refresh_from_db()
    return job.state


def test_a_worker_does_what_was_handed_over(house: House, tmp_path: Path) -> None:
    house.open()
    job = hand_over(tmp_path / "diary", keys=3, pause_s=0)
    assert eventually(lambda: state_of(job) == Job.State.DONE)
    assert (job.done, job.total, job.result, job.attempts) == (3, 3, {"keys": 3}, 1)
    assert [key for _, key in struck(tmp_path / "diary")] == [1, 2, 3]


def test_work_cut_off_with_its_worker_is_finished_by_the_next(house: House, tmp_path: Path) -> None:
    worker = house.open()
    diary = tmp_path / "diary"
    job = hand_over(diary, keys=20, pause_s=0.2)
    waiting = [hand_over(tmp_path / f"diary{n}", keys=1, pause_s=0) for n in range(4)]
    assert eventually(lambda: len(struck(diary)) >= 5)
    kill_all_of(worker)
    assert state_of(job) == Job.State.RUNNING

    house.start(parts.worker(house.environment))
    assert eventually(lambda: state_of(job) == Job.State.DONE)
    assert job.attempts == 2
    first, *_, last = struck(diary)
    assert [key for hand, key in struck(diary) if hand == last[0]] == list(range(1, 21))
    assert first[0] != last[0]
    assert eventually(lambda: all(state_of(each) == Job.State.DONE for each in waiting))


def test_what_was_handed_over_while_nobody_worked_is_done_when_the_shop_opens(
    house: House, tmp_path: Path
) -> None:
    waiting = [hand_over(tmp_path / f"diary{n}", keys=1, pause_s=0) for n in range(5)]
    assert {state_of(job) for job in waiting} == {Job.State.QUEUED}
    house.open()
    assert eventually(lambda: all(state_of(job) == Job.State.DONE for job in waiting))
    assert [len(struck(tmp_path / f"diary{n}")) for n in range(5)] == [1] * 5


def test_a_running_job_hears_that_it_is_to_stop(house: House, tmp_path: Path) -> None:
    house.open()
    job = hand_over(tmp_path / "diary", keys=500, pause_s=0.05)
    assert eventually(lambda: len(struck(tmp_path / "diary")) > 2)
    jobs.ask_to_stop(job.pk)
    assert eventually(lambda: state_of(job) == Job.State.STOPPED)
    assert 2 < len(struck(tmp_path / "diary")) < 500


def test_taps_are_kept_while_the_broker_is_away_and_done_when_it_is_back(
    house: House, tmp_path: Path
) -> None:
    """The worker may fall over when its broker is killed (seen with Celery 5.7), so `up` looks after both."""
    server = next((part for part in house.running if part.name == "broker"), None)
    if server is None:
        pytest.skip("not our broker to kill")
    house.open()
    first = hand_over(tmp_path / "before", keys=1, pause_s=0)
    assert eventually(lambda: state_of(first) == Job.State.DONE)
    kill_all_of(server)
    waiting = [hand_over(tmp_path / f"diary{n}", keys=1, pause_s=0) for n in range(3)]

    def done_under_supervision() -> bool:
        for part in house.running:
            part.look()
        return all(state_of(job) == Job.State.DONE for job in waiting)

    assert eventually(done_under_supervision)
