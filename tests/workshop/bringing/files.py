"""Small files for tests, and what bringing them in does."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from shopflow.people.models import Person
from shopflow.workshop.services.bringing import keeping, writing
from shopflow.workshop.services.bringing.keeping import Kept
from shopflow.workshop.services.bringing.plan import Plan
from shopflow.workshop.services.taps import Answer

HEAD = "number,kind,maker,serial,year,arrived_on,customer,route,task,department,stage,hours_likely,note"
CHOOSE = "/records/bring/"


def table(*rows: str, head: str = HEAD) -> bytes:
    return "\n".join([head, *rows, ""]).encode()


def of(*rows: Mapping[str, str], head: str = "") -> bytes:
    """Rows told by column name."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    lines = [",".join(row.get(name, "") for name in names) for row in rows]
    return "\n".join([head or ",".join(names), *lines, ""]).encode()


def look(data: bytes, by: Person, answers: Mapping[str, str] | None = None) -> Plan:
    return writing.look(Kept("", "list.csv", data), answers or {}, by=by)


def faults(plan: Plan) -> list[tuple[int, str]]:
    return [(problem.line, _known(problem.column)) for problem in plan.problems]


def _known(column: str) -> str:
    return column.rpartition("(")[2].rstrip(")") if column.endswith(")") else column


def yes_to_all(plan: Plan) -> dict[str, str]:
    """The first answer to every question: tick each tick, bring each look-alike in."""
    return {question.name: question.choices[0][0] for question in plan.questions}


def bring(data: bytes, by: Person, answers: Mapping[str, str] | None = None) -> Answer:
    """Keep the file and bring it in, as the page does."""
    kept = keeping.kept(keeping.keep(data=data, name="list.csv", by=by), by=by)
    assert kept is not None
    return writing.bring_in(kept, answers or {}, by=by)


def upload(client: Any, data: bytes, name: str = "list.csv") -> Any:
    return client.post(CHOOSE, {"file": SimpleUploadedFile(name, data)})
