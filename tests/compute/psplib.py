"""Reads the public project scheduling instances (PSPLIB) from a folder beside the repository.

R. Kolisch and A. Sprecher, "PSPLIB - A project scheduling problem library", European Journal of Operational
Research 96 (1996) 205-216.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

from shopflow.compute.schedule import Job, Problem


@dataclass(frozen=True, slots=True)
class Known:
    """What is published about one instance."""

    critical_path: int
    lower_bound: int
    best: int


def best_known(folder: Path) -> dict[str, Known]:
    """Published bounds by file name."""
    with (folder / "best_known.csv").open(newline="") as rows:
        return {
            row["file"]: Known(int(row["critical_path"]), int(row["lower_bound"]), int(row["best_known"]))
            for row in csv.DictReader(rows)
        }


def read_sm(path: Path) -> Problem:
    """One instance, without the two jobs that take no time and only mark beginning and end."""
    lines = path.read_text().splitlines()
    followers = {row[0]: row[3:] for row in _rows(lines, "PRECEDENCE RELATIONS:", skip=2)}
    requests = {row[0]: (row[2], row[3:]) for row in _rows(lines, "REQUESTS/DURATIONS:", skip=3)}
    capacities = _rows(lines, "RESOURCEAVAILABILITIES:", skip=2)[0]
    after: dict[int, dict[int, int]] = {job: {} for job in requests}
    for job, later in followers.items():
        for follower in later:
            if requests[job][0]:
                after[follower][job] = 0
    jobs = [
        Job(job, hours, {f"R{i + 1}": hands for i, hands in enumerate(needs) if hands}, after[job])
        for job, (hours, needs) in requests.items()
        if hours
    ]
    return Problem(jobs, {f"R{i + 1}": hands for i, hands in enumerate(capacities)})


def _rows(lines: list[str], title: str, *, skip: int) -> list[list[int]]:
    rows = []
    for line in lines[lines.index(title) + skip :]:
        if line.startswith("*"):
            break
        rows.append([int(word) for word in line.split()])
    return rows
