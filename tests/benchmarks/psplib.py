"""Public instances: how far our plans are from the best known ones, after so many seconds each.

Run it with:  PSPLIB=<folder> python -m tests.benchmarks.psplib [seconds] [sets ...]
for example:  PSPLIB=../shared/data/psplib python -m tests.benchmarks.psplib 10 j30 j60 j120
An instance whose published lower bound is reached is stopped there: it cannot become better. The figures hold
for the processor time that the machine could spare, so the share of it that was had is printed beside them.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

from shopflow.compute.schedule import solve, warm_up
from tests.compute.psplib import Known, best_known, read_sm


def main(seconds: float, sets: list[str]) -> None:
    """Print the mean deviation per set."""
    folder = Path(os.environ["PSPLIB"])
    warm_up()
    for name in sets:
        known = {file: row for file, row in best_known(folder).items() if file.startswith(f"{name}/")}
        wall, cpu = time.perf_counter(), time.process_time()
        found = {file: _length(folder / file, row, seconds) for file, row in known.items()}
        share = (time.process_time() - cpu) / (time.perf_counter() - wall) / 2
        over = [100 * (found[file] / known[file].best - 1) for file in known]
        hits = sum(found[file] == known[file].best for file in known)
        print(
            f"{name}: mean {sum(over) / len(over):.3f} %, worst {max(over):.2f} %, "
            f"best known {hits}/{len(over)}, "
            f"{seconds:g} s each, {share:.0%} of two processors had",
            flush=True,
        )


def _length(path: Path, known: Known, seconds: float) -> float:
    plan = solve(read_sm(path), seconds, on_progress=lambda best, _: best > known.lower_bound)
    assert plan.violations() == []
    assert plan.makespan >= known.lower_bound, "shorter than is possible"
    assert plan.lower_bound <= known.best, "a bound that is not one"
    return plan.makespan


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 10.0, sys.argv[2:] or ["j30", "j60", "j120"])
