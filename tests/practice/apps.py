"""A stand-in app with work to practise on, for real worker processes; waits are short so that tests are."""

from __future__ import annotations

from datetime import timedelta

from django.apps import AppConfig


class PracticeConfig(AppConfig):
    name = "tests.practice"

    def ready(self) -> None:
        from shopflow.common import job_runs

        job_runs.BEAT_EVERY_S = 0.5
        job_runs.STALE_AFTER = timedelta(seconds=3)
        job_runs.SEND_AGAIN_AFTER = timedelta(seconds=3)
