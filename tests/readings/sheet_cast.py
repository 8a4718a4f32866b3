"""A bench with a sheet: a task in its stage, its hand, another bench's hand, and the ways to send a tap."""

from __future__ import annotations

import uuid
from typing import Any

from django.test import Client

from shopflow.catalogue.models import Caution, ReadingKind, Rest
from shopflow.people.models import Person
from shopflow.workshop.models import Task
from tests import cast


def reading_kind(code: str = "lacquer-film", **given: Any) -> ReadingKind:
    usual = {"name": "Film thickness, lacquer", "unit": "µm", "inch_unit": "mil", "inch_factor": "25.4"}
    limits = {"usual_low": 64, "usual_high": 178, "possible_low": 0, "possible_high": 2000, "decimals": 0}
    return ReadingKind.objects.create(code=code, **(usual | limits | given))


def task_with_sheet(sheet: str = "finishing", *, by: Person, rest_hours: int = 0, **given: Any) -> Task:
    op = cast.operation("build-lacquer", sheet=sheet)
    if rest_hours:
        op.rest = Rest.objects.create(
            code="lacquer", name="hardens", hours_low=rest_hours, hours_likely=rest_hours * 2,
            hours_high=rest_hours * 3, basis="example",
        )  # fmt: skip
        op.save()
    return cast.task(op, on=cast.instrument(by=by, **given), by=by)


def caution(code: str = "solvents-spray") -> Caution:
    return Caution.objects.create(code=code, title="Solvents and spraying", text="Fan on before the gun.")


def sheet_url(task: Task, tail: str = "", kind: str = "finishing") -> str:
    return f"/tasks/{task.pk}/sheet/{kind}/{tail}"


def send(client: Client, url: str, *, json: bool = False, key: str = "", **fields: Any) -> Any:
    """A tap as the plain form sends it, or as the outbox does."""
    headers = {"Accept": "application/json"} if json else {}
    return client.post(url, {"key": key or uuid.uuid4().hex, **fields}, headers=headers)
