"""The state of the piano: what a job needs, in which order, and what cannot be together.

`Knowledge` answers; `reading` makes it from plain data; `model` holds lines and operations; `rules` says what
must be present, `completing` finds the cheapest whole job, `ordering` what comes before what, `clashing` what
contradicts itself, `levels` the four usual ways to go. The levels, orders and shares are data and common
practice without a source; only the algebra is code.
"""

from shopflow.compute.worknet.clashing import Clashes
from shopflow.compute.worknet.completing import Choice, Completed
from shopflow.compute.worknet.knowledge import Extra, Knowledge
from shopflow.compute.worknet.model import Line, Work
from shopflow.compute.worknet.ordering import Tie
from shopflow.compute.worknet.rules import Rule

__all__ = ["Choice", "Clashes", "Completed", "Extra", "Knowledge", "Line", "Rule", "Tie", "Work"]
