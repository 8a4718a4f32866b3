"""Handing work over: in the caller's transaction, once per key, and without ever waiting for a broker."""

from __future__ import annotations

import socket
import time
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import transaction

from shopflow.common import jobs
from shopflow.common.models import Job

from .practice import all_at_once, kind

__all__ = ["kind"]
Kind = Callable[[Callable[..., Any]], str]


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[list[int]]:
    """The jobs that a worker was told of."""
    heard: list[list[int]] = []
    monkeypatch.setattr(jobs, "wake", lambda ids: heard.append(list(ids)) or True)
    return heard


@pytest.fixture
def name(kind: Kind) -> str:
    return kind(lambda run, **args: None)


@pytest.mark.django_db(transaction=True)
def test_a_worker_is_told_only_after_the_callers_transaction_is_kept(
    name: str, told: list[list[int]]
) -> None:
    with transaction.atomic():
        job = jobs.enqueue(name, piano=7)
        assert told == []
    assert told == [[job.pk]]
    assert Job.objects.get().args == {"piano": 7}


@pytest.mark.django_db(transaction=True)
def test_a_job_goes_with_the_transaction_that_asked_for_it(name: str, told: list[list[int]]) -> None:
    with transaction.atomic():
        jobs.enqueue(name)
        transaction.set_rollback(True)
    assert (told, Job.objects.count()) == ([], 0)


@pytest.mark.django_db
def test_a_job_remembers_who_asked(name: str) -> None:
    class Manager(SimpleNamespace):
        def __str__(self) -> str:
            return "Ada Fenwick"

    job = jobs.enqueue(name, by=Manager(pk=12))
    assert (job.by_pk, job.by_name) == (12, "Ada Fenwick")


@pytest.mark.django_db
def test_an_unknown_kind_is_refused_where_it_is_asked_for() -> None:
    with pytest.raises(LookupError, match="no kind of work is called 'polish the moon'"):
        jobs.enqueue("polish the moon")


@pytest.mark.django_db
def test_arguments_that_would_not_come_back_the_same_are_refused(name: str) -> None:
    with pytest.raises(TypeError), transaction.atomic():
        jobs.enqueue(name, piano=object())


@pytest.mark.django_db
def test_while_one_of_a_key_is_open_nobody_adds_a_second(name: str) -> None:
    first = jobs.enqueue(name, unique="2026-W48")
    assert jobs.enqueue(name, unique="2026-W48") == first
    Job.objects.update(state=Job.State.RUNNING)
    assert jobs.enqueue(name, unique="2026-W48") == first
    assert jobs.enqueue(name, unique="2026-W49") != first


@pytest.mark.django_db
def test_when_the_one_of_a_key_has_ended_there_is_room_again(name: str) -> None:
    first = jobs.enqueue(name, unique="2026-W48")
    Job.objects.update(state=Job.State.DONE)
    assert jobs.enqueue(name, unique="2026-W48") != first


@pytest.mark.django_db
def test_jobs_without_a_key_never_stand_in_for_each_other(name: str) -> None:
    assert jobs.enqueue(name) != jobs.enqueue(name)


@pytest.mark.data_layer
@pytest.mark.django_db(transaction=True)
def test_eight_askers_of_one_key_at_once_share_one_job(name: str) -> None:
    answers = all_at_once(lambda: jobs.enqueue(name, unique="2026-W48").pk)
    assert answers == [Job.objects.get().pk] * 8


@pytest.mark.django_db
def test_a_waiting_job_is_stopped_at_once_and_a_running_one_is_asked(name: str) -> None:
    waiting, running = jobs.enqueue(name), jobs.enqueue(name)
    Job.objects.filter(pk=running.pk).update(state=Job.State.RUNNING)
    for job in (waiting, running):
        jobs.ask_to_stop(job.pk)
        job.refresh_from_db()
    assert (waiting.state, running.state) == (Job.State.STOPPED, Job.State.RUNNING)
    assert running.stop_asked


@pytest.mark.django_db
def test_only_a_job_that_ended_badly_is_taken_up_again(name: str) -> None:
    person = SimpleNamespace(pk=1)
    job = jobs.enqueue(name, unique="2026-W48", piano=7)
    assert jobs.again(job.pk, by=person) == job
    Job.objects.update(state=Job.State.FAILED)
    second = jobs.again(job.pk, by=person)
    assert second != job
    assert (second.state, second.args, second.unique_key) == (Job.State.QUEUED, {"piano": 7}, job.unique_key)


@pytest.fixture
def silent_broker() -> Iterator[str]:
    """An address that takes a connection and then never says a word."""
    with socket.create_server(("127.0.0.1", 0)) as ear:
        yield f"redis://127.0.0.1:{ear.getsockname()[1]}/0"


@pytest.fixture
def absent_broker() -> str:
    with socket.create_server(("127.0.0.1", 0)) as ear:
        return f"redis://127.0.0.1:{ear.getsockname()[1]}/0"


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("broker", ["silent_broker", "absent_broker"])
def test_a_tap_neither_fails_nor_waits_long_when_the_broker_is_away(
    broker: str, name: str, settings: Any, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> None:
    monkeypatch.setattr(jobs, "_leave_alone_until", 0.0)
    settings.CELERY_BROKER_URL = request.getfixturevalue(broker)
    began = time.monotonic()
    jobs.enqueue(name)
    first, began = time.monotonic() - began, time.monotonic()
    jobs.enqueue(name)
    second = time.monotonic() - began
    assert Job.objects.filter(state=Job.State.QUEUED).count() == 2
    assert first < 2.5, "even a broker that hangs costs no more than a short moment"
    assert second < 0.25, "and the next tap does not knock at all"
