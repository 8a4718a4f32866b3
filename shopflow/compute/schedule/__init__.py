"""Who does what when, with the hands that are there: ``Problem`` in, ``solve``, ``Solution`` out.

>>> from shopflow.compute.schedule import Job, Problem, solve
>>> strip, colour = Job("strip", 6, {"finish": 1}), Job("colour", 3, {"finish": 1}, after={"strip": 2})
>>> shop = Problem([strip, colour], {"finish": 1})
>>> solve(shop, iterations=10).finish["colour"]
11.0
"""

from shopflow.compute.schedule.hours import ShopHours
from shopflow.compute.schedule.problem import Job, Problem
from shopflow.compute.schedule.solution import Solution
from shopflow.compute.schedule.solver import solve, warm_up

__all__ = ["Job", "Problem", "ShopHours", "Solution", "solve", "warm_up"]
