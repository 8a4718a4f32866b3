"""How long a job of about 80 operations takes to be completed and ordered, as a ratio to a floor.

Run it with:  python -m tests.benchmarks.work_speed [runs]

Times are of the processor. The floor, taken in the same process, is one look at every pair of the job's
operations in a plain dictionary.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable, Mapping
from itertools import combinations
from typing import Any

from shopflow.compute.errors import ComputeError
from shopflow.compute.worknet import Knowledge
from tests.catalogue_data import data_from_fixtures

OPERATIONS = 80


def big_job(knowledge: Knowledge, route: list[str]) -> list[str]:
    """A full rebuild, with more work that does not contradict it, up to some 80 operations."""
    job = set(knowledge.complete(route).operations)
    for code in sorted(knowledge.codes - job):
        try:
            more = set(knowledge.complete([*job, code]).operations)
        except ComputeError:
            continue
        if job | {code} <= more and len(more) <= OPERATIONS:
            job = more
    return sorted(job)


def median_ms(work: Callable[[], object], runs: int) -> float:
    times = []
    for _ in range(runs):
        began = time.process_time()
        work()
        times.append((time.process_time() - began) * 1000)
    return statistics.median(times)


def measure(data: Mapping[str, Any], kind: str, route: str, runs: int) -> None:
    knowledge = Knowledge.load(data, kind)
    job = big_job(
        knowledge, [code for code in data["routes"][route]["operations"] if code in knowledge.codes]
    )
    done, todo = job[: len(job) // 2], job[len(job) // 2 :]
    findings = dict.fromkeys(sorted(data["findings"])[:40], 2)
    pairs = dict.fromkeys(combinations(job, 2), 1)
    floor = median_ms(lambda: sum(pairs[pair] for pair in combinations(job, 2)), runs)
    print(f"{kind}: {len(job)} operations; floor {floor:.2f} ms")
    questions: dict[str, Callable[[], object]] = {
        "load from data": lambda: Knowledge.load(data, kind),
        "complete": lambda: knowledge.complete(job),
        "order": lambda: knowledge.order(job),
        "complete and order": lambda: knowledge.order(knowledge.complete(job).operations),
        "extra": lambda: knowledge.extra(done, todo, ["bridge-repin"]),
        "all that may start": lambda: knowledge.hindrances(done, todo),
        "rebuilt, 40 findings": lambda: knowledge.level("rebuilt", findings),
    }
    for name, question in questions.items():
        took = median_ms(question, runs)
        print(f"  {name}: {took:.2f} ms, {took / floor:.0f} floors")


def main(runs: int) -> None:
    data = data_from_fixtures()
    measure(data, "grand", "A", runs)
    measure(data, "upright", "B", runs)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 9)
