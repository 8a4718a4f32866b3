"""Laying out an instrument's work, and changing what is laid out.

- `plan`: what a job is to consist of and in which order, from the state of the piano; nothing is written
- `laying`: a whole job at once, from a route or a list of operations
- `adding`: to a job under way, and taking out of it
- `tying`: what open work waits for, as the state of the piano asks
- `by_hand`: who does a task, its place in the list, ties by hand
- `tasks`: a task made of an operation
"""

from .adding import AddedWork, WorkToAdd, add_alone, add_work, drop_task, what_dropping_means, what_to_add
from .by_hand import assign, move_in_order, say_where, tie, untie
from .laying import lay_out, sketch, start_route
from .plan import JobPlan, plan_job, tie_as_named
from .tasks import path_of, path_through, task_for
from .tying import Untied, WantedTie, pairs_of, tie_open_work, untied

__all__ = [
    "AddedWork",
    "JobPlan",
    "Untied",
    "WantedTie",
    "WorkToAdd",
    "add_alone",
    "add_work",
    "assign",
    "drop_task",
    "lay_out",
    "move_in_order",
    "pairs_of",
    "path_of",
    "path_through",
    "plan_job",
    "say_where",
    "sketch",
    "start_route",
    "task_for",
    "tie",
    "tie_as_named",
    "tie_open_work",
    "untie",
    "untied",
    "what_dropping_means",
    "what_to_add",
]
