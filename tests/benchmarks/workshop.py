"""An invented workshop to measure against: 5 departments, 4 kinds of rebuild, about 20 tasks and 200 hours
each.

Every figure in here (hours, rests, hands, due dates) is made up; none is a trade value.
"""

from __future__ import annotations

import random

from shopflow.compute.schedule import Job, Problem, ShopHours

HANDS = {"refinishing": 4, "plating": 2, "action": 4, "soundboard": 3, "stringing": 3}
OPEN = [(day * 24.0, day * 24.0 + 8.0) for day in range(5)]
RESTS = [24.0, 48.0, 72.0, 168.0, 336.0, 504.0]


def workshop(instruments: int, seed: int = 1) -> Problem:
    """So many instruments on the floor or coming in, due dates about as tight as the hands allow.

    >>> len(workshop(60).jobs) > 900
    True
    """
    dice = random.Random(seed)
    kinds = [_route(dice, tasks) for tasks in (14, 18, 22, 25)]
    jobs = [job for number in range(instruments) for job in _instrument(dice, number, instruments, kinds)]
    return Problem(jobs, HANDS, shop_hours=ShopHours(OPEN))


def _route(dice: random.Random, tasks: int) -> list[tuple[str, float, list[int], float]]:
    """(department, hours, earlier tasks, rest after it) for each task of one kind of rebuild."""
    names = list(HANDS)
    route = []
    for task in range(tasks):
        earlier = (
            []
            if task < 2
            else sorted({task - 1 - dice.randrange(min(3, task)) for _ in range(1 + dice.randrange(2))})
        )
        hours = min(40.0, dice.lognormvariate(0.0, 0.6) * 200 / tasks * 0.85)
        rest = dice.choice(RESTS) if dice.random() < 0.2 else 0.0
        route.append((names[dice.choices(range(5), weights=HANDS.values())[0]], hours, earlier, rest))
    return route


def _instrument(dice: random.Random, number: int, instruments: int, kinds: list) -> list[Job]:
    route = dice.choice(kinds)
    weeks_of_work = instruments * 200 / (sum(HANDS.values()) * 40)
    release = dice.uniform(0, 0.6 * weeks_of_work) * 168 if number % 2 else 0.0
    due = release + dice.uniform(0.5, 1.3) * max(8.0, weeks_of_work) * 168 * 0.8
    weight = dice.choice([1, 2, 4])
    jobs = []
    for task, (department, hours, earlier, _) in enumerate(route):
        last = task == len(route) - 1
        waits = range(task) if last else earlier
        jobs.append(
            Job(
                f"{number}.{task}",
                max(0.25, round(hours * dice.uniform(0.7, 1.4) * 4) / 4),
                {department: 1},
                {f"{number}.{before}": route[before][3] for before in waits},
                release=release,
                due=due if last else None,
                weight=weight,
                group=f"instrument {number}",
            )
        )
    return jobs
