"""How fast the boards answer, as ratios to floors measured in the same run.

    .venv/bin/python -m tests.benchmarks.boards

Two floors: rendering a plain table of 300 rows with the template engine, and committing one row with
synchronous=FULL. A ratio says how many of those a page or a tap costs; it hardly moves with the machine.
"""

from __future__ import annotations

import statistics
import sys
import time
import uuid
from collections.abc import Callable

import django
from django.conf import settings

RUNS = 15


def median_ms(deed: Callable[[], object], runs: int = RUNS) -> float:
    deed()
    times = []
    for _ in range(runs):
        began = time.perf_counter()
        deed()
        times.append((time.perf_counter() - began) * 1000)
    return statistics.median(times)


def plain_table() -> Callable[[], object]:
    from django.template import engines

    template = engines["django"].from_string(
        "<table>{% for row in rows %}<tr>{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>"
        "{% endfor %}</table>"
    )
    rows = [[f"cell {place}" for place in range(7)] for _ in range(300)]
    return lambda: template.render({"rows": rows})


def one_commit() -> Callable[[], object]:
    from shopflow.workshop.models import Tap

    return lambda: Tap.objects.create(
        client="bench", key=uuid.uuid4().hex, fingerprint="", status=200, answer={}
    )


def a_tap(client: object, tasks: list[object]) -> Callable[[], object]:
    """Mark the next stage of one task after the other, each a request of its own."""
    left = iter(tasks)

    def tap() -> None:
        task = next(left)
        asked = {"key": uuid.uuid4().hex, "seen": task.path[0], "to": task.path[1]}
        answer = client.post(f"/tasks/{task.pk}/move/", asked, headers={"HX-Request": "true"})
        assert answer.status_code == 200, answer.content[:300]

    return tap


def measure() -> None:
    from django.test import Client

    from shopflow.workshop.models import Task
    from tests import cast

    table, commit = median_ms(plain_table()), median_ms(one_commit(), 60)
    print(f"{'floor: plain table of 300 rows':44} {table:8.2f} ms")
    print(f"{'floor: one commit, synchronous=FULL':44} {commit:8.2f} ms")
    cast.shop()
    maud = cast.manager()
    client = Client()
    client.force_login(maud)
    there = 0
    for count in (60, 300):
        cast.busy_house(count - there)
        there = count
        page = median_ms(lambda: client.get("/floor/"))
        print(f"{f'Floor, {count} instruments':44} {page:8.2f} ms   {page / table:6.1f} tables")
    mark = client.get("/floor/", headers={"HX-Request": "true"}).content.decode()
    known = {"HX-Request": "true", "X-Pulse": mark.split('"X-Pulse": "')[1].split('"')[0]}
    poll = median_ms(lambda: client.get("/floor/", headers=known))
    print(f"{'poll that finds nothing new':44} {poll:8.2f} ms   {poll / table:6.1f} tables")
    ready = Task.objects.filter(stage__kind="racked").exclude(needs__needs__stage__kind="racked")
    tasks = list(ready[: RUNS + 1])
    tap = median_ms(a_tap(client, tasks), RUNS)
    print(f"{'tap: a stage marked done':44} {tap:8.2f} ms   {tap / commit:6.1f} commits")
    _report(maud, table)


def _report(maud: object, table: float) -> None:
    from shopflow.common import clock
    from shopflow.compute.calendar import IsoWeek
    from shopflow.reports.selectors.week import week_figures

    week = IsoWeek.of(clock.today()).previous()
    report = median_ms(lambda: week_figures(week))
    print(f"{'figures of one weekly report':44} {report:8.2f} ms   {report / table:6.1f} tables")


def main(measure: Callable[[], None] = measure) -> int:
    """Measure in a database of its own."""
    django.setup()
    from django.test.utils import get_runner, setup_test_environment

    setup_test_environment()
    runner = get_runner(settings)(verbosity=0, interactive=False)
    databases = runner.setup_databases()
    try:
        measure()
    finally:
        runner.teardown_databases(databases)
    return 0


if __name__ == "__main__":
    import os

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    sys.exit(main())
