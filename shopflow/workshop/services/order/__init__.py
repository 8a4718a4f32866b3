"""The order of work, in one place: what may follow what, and what stands in the way.

- `path`: the stages of a task and a wish to take it from one to another
- `moments`: what the ledger tells of a task: since when it stands there, whose hands were on it last
- `places`: which parts of a piano a task holds
- `state`: what the piano itself says to work that wants to begin
- `facts`: all that is read to answer, for one task or many
- `question`: may it take this step now?
"""

from .facts import Facts, Wait, read_facts
from .moments import earliest_touch, in_words, last_hands, stay_began, stays_began
from .path import END_KINDS, Step, asks_for_reading, live_path, next_stage, stages_there_are
from .question import Hindrance, Sort, hindrances, may_go_on, may_start, not_here

__all__ = [
    "END_KINDS",
    "Facts",
    "Hindrance",
    "Sort",
    "Step",
    "Wait",
    "asks_for_reading",
    "earliest_touch",
    "hindrances",
    "in_words",
    "last_hands",
    "live_path",
    "may_go_on",
    "may_start",
    "next_stage",
    "not_here",
    "read_facts",
    "stages_there_are",
    "stay_began",
    "stays_began",
]
