"""The worker's side: each job done once, told honestly, and never lost with a worker or a broker."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from shopflow.common import clock, job_runs, jobs
from shopflow.common.models import Job
from shopflow.compute.errors import ComputeError

from .practice import all_at_once, kind

__all__ = ["kind"]
Kind = Callable[[Callable[..., Any]], str]
SOMEBODY = SimpleNamespace(pk=1)


def handed_over(name: str, **args: Any) -> Job:
    return jobs.enqueue(name, by=SOMEBODY, **args)


def later(**how_much: int) -> Any:
    return clock.at(clock.now() + timedelta(**how_much))


@pytest.mark.django_db
def test_what_the_work_returns_is_kept_for_whoever_asked(kind: Kind) -> None:
    job = handed_over(kind(lambda run, piano: {"link": f"/reports/{piano}/"}), piano=7)
    job_runs.run(job.pk)
    job.refresh_from_db()
    assert (job.state, job.result, job.attempts) == (Job.State.DONE, {"link": "/reports/7/"}, 1)
    assert job.finished_at is not None


@pytest.mark.django_db
def test_a_message_delivered_seven_times_starts_one_run(kind: Kind) -> None:
    starts: list[int] = []
    job = handed_over(kind(lambda run: starts.append(1)))
    for _ in range(7):
        job_runs.run(job.pk)
    assert len(starts) == 1


@pytest.mark.data_layer
@pytest.mark.django_db(transaction=True)
def test_of_eight_workers_told_of_one_job_one_takes_it(kind: Kind) -> None:
    job = handed_over(kind(lambda run: None))
    answers = all_at_once(lambda: job_runs.take(job.pk))
    assert sum(isinstance(answer, job_runs.JobRun) for answer in answers) == 1
    assert answers.count(None) == 7


@pytest.mark.django_db
def test_progress_is_told_often_and_written_at_most_once_a_second(
    kind: Kind, django_assert_num_queries: Any
) -> None:
    def polish(run: jobs.Run) -> None:
        with django_assert_num_queries(1):
            for key in range(1, 89):
                run.progress(key, total=88, note=f"key {key}")

    job = handed_over(kind(polish))
    job_runs.run(job.pk)
    job.refresh_from_db()
    assert (job.done, job.total, job.note, job.percent) == (88, 88, "key 88", 100)


@pytest.mark.django_db
def test_progress_can_be_read_while_the_work_goes_on(kind: Kind) -> None:
    seen: list[tuple[int, str]] = []

    def polish(run: jobs.Run) -> None:
        run.progress(22, total=88, note="key 22")
        seen.append((Job.objects.get().percent, Job.objects.get().note))

    job_runs.run(handed_over(kind(polish)).pk)
    assert seen == [(25, "key 22")]


@pytest.mark.django_db
def test_a_job_that_is_asked_to_stop_ends_as_stopped(kind: Kind) -> None:
    def polish(run: jobs.Run) -> None:
        jobs.ask_to_stop(Job.objects.get().pk)
        assert run.stopped()
        run.progress(5, total=88, note="five keys done")

    job_runs.run(handed_over(kind(polish)).pk)
    job = Job.objects.get()
    assert (job.state, job.note) == (Job.State.STOPPED, "five keys done")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("trouble", "words"),
    [
        (jobs.Cannot("There is no plan for this week yet."), "There is no plan for this week yet."),
        (ComputeError("hours", -3, "0 or more"), "hours: got -3; allowed is 0 or more"),
        (ValidationError(["Name a month.", "Name a year."]), "Name a month. Name a year."),
        (ConnectionRefusedError(111, "Connection refused"), "The machine answered: Connection refused."),
        (KeyError("x"), "Something unexpected happened (KeyError); the machine's log tells more."),
    ],
)
def test_a_failing_job_says_why_in_words_and_can_be_taken_up_again(
    kind: Kind, trouble: Exception, words: str
) -> None:
    troubles = [trouble]

    def work(run: jobs.Run) -> dict[str, str]:
        if troubles:
            raise troubles.pop()
        return {"link": "/year/"}

    job = handed_over(kind(work))
    job_runs.run(job.pk)
    job.refresh_from_db()
    assert (job.state, job.note) == (Job.State.FAILED, words)

    second = jobs.again(job.pk, by=SOMEBODY)
    job_runs.run(second.pk)
    second.refresh_from_db()
    assert (second.state, second.result) == (Job.State.DONE, {"link": "/year/"})


@pytest.mark.django_db(transaction=True)
def test_a_result_that_cannot_be_kept_fails_the_job_instead_of_leaving_it_open(kind: Kind) -> None:
    job_runs.run(handed_over(kind(lambda run: {"piano": object()})).pk)
    assert Job.objects.get().state == Job.State.FAILED


@pytest.mark.django_db
def test_a_job_whose_worker_fell_silent_waits_again_and_is_done_by_another(kind: Kind) -> None:
    job = handed_over(kind(lambda run: None))
    job_runs.take(job.pk)
    job_runs.sweep()
    assert Job.objects.get().state == Job.State.RUNNING, "a live worker keeps its job"
    with later(seconds=31):
        job_runs.sweep()
    job_runs.run(job.pk)
    job.refresh_from_db()
    assert (job.state, job.attempts) == (Job.State.DONE, 2)


@pytest.mark.django_db
def test_a_worker_thought_dead_that_comes_back_changes_nothing(kind: Kind) -> None:
    job = handed_over(kind(lambda run: {"by": "the second"}))
    first = job_runs.take(job.pk)
    assert first is not None
    with later(seconds=31):
        job_runs.sweep()
    job_runs.run(job.pk)
    with pytest.raises(job_runs.TakenOver):
        first.progress(1, total=2)
    with pytest.raises(job_runs.TakenOver):
        first.end(Job.State.FAILED, "too late", {"by": "the first"})
    assert Job.objects.get().result == {"by": "the second"}


@pytest.mark.django_db
def test_work_that_cuts_off_its_worker_three_times_is_not_tried_for_ever(kind: Kind) -> None:
    job = handed_over(kind(lambda run: None))
    for attempt in range(1, 4):
        with later(minutes=attempt):
            assert job_runs.take(job.pk)
        with later(minutes=attempt, seconds=31):
            job_runs.sweep()
    job.refresh_from_db()
    assert (job.state, job.note) == (Job.State.FAILED, "The worker was cut off 3 times during this work.")


@pytest.mark.django_db(transaction=True)
def test_a_long_silent_computation_shows_that_its_worker_lives(
    kind: Kind, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(job_runs, "BEAT_EVERY_S", 0.02)
    began: list[Any] = []

    def think(run: jobs.Run) -> None:
        began.append(Job.objects.get().heartbeat)
        deadline = time.monotonic() + 5
        while Job.objects.get().heartbeat == began[0] and time.monotonic() < deadline:
            time.sleep(0.02)
        began.append(Job.objects.get().heartbeat)

    job_runs.run(handed_over(kind(think)).pk)
    assert began[1] > began[0]


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    heard: list[int] = []
    monkeypatch.setattr(jobs, "wake", lambda ids: heard.extend(ids) or True)
    return heard


@pytest.mark.django_db
def test_a_message_that_a_broker_lost_is_sent_again_after_a_minute_and_not_before(
    kind: Kind, told: list[int]
) -> None:
    job = handed_over(kind(lambda run: None))
    job_runs.sweep()
    assert told == []
    with later(seconds=61):
        job_runs.sweep()
        job_runs.sweep()
    assert told == [job.pk]


@pytest.mark.django_db
def test_a_new_worker_is_told_of_everything_that_waits(kind: Kind, told: list[int]) -> None:
    waiting = [handed_over(kind(lambda run: None)).pk for _ in range(3)]
    job_runs.sweep(every_waiting_job=True)
    assert told == waiting


@pytest.mark.django_db
def test_what_ended_long_ago_is_forgotten_and_what_is_open_never(kind: Kind) -> None:
    ended, waiting = handed_over(kind(lambda run: None)), handed_over(kind(lambda run: None))
    job_runs.run(ended.pk)
    with later(days=91):
        job_runs.sweep()
    assert list(Job.objects.all()) == [waiting]


@pytest.mark.django_db
def test_a_page_can_tell_whether_a_worker_is_awake(kind: Kind) -> None:
    assert not job_runs.is_awake()
    job_runs.sweep()
    assert job_runs.is_awake()
    with later(seconds=61):
        assert not job_runs.is_awake()
        job_runs.take(handed_over(kind(lambda run: None)).pk)
        assert job_runs.is_awake(), "a worker that is busy with a long job is awake too"
