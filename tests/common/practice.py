"""Kinds of work to practise on, and a way to be several at once."""

from __future__ import annotations

from collections.abc import Callable
from threading import Barrier, Thread
from typing import Any

import pytest
from django.db import connections

from shopflow.common import jobs


@pytest.fixture
def kind(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[..., Any]], str]:
    """Make a function a kind of work for one test; gives the kind's name."""

    def register(work: Callable[..., Any]) -> str:
        monkeypatch.setitem(jobs._kinds, "practice", work)
        return "practice"

    return register


def all_at_once(deed: Callable[[], Any], *, hands: int = 8) -> list[Any]:
    """Let several threads, each with a database connection of its own, do the same at the same moment."""
    ready = Barrier(hands)
    answers: list[Any] = []

    def one() -> None:
        try:
            ready.wait()
            answers.append(deed())
        except Exception as trouble:
            answers.append(trouble)
        finally:
            connections.close_all()

    threads = [Thread(target=one) for _ in range(hands)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return answers
