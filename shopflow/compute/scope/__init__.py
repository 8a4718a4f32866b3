"""What to do for this money: ``fit`` the best work to a budget, see the ``curve``, ``ask`` for many budgets.

`choices`: what was asked, checked; `solver`: the same in whole numbers, and HiGHS; `ties`: what follows
from what; `ways`: the forks through it; `front`: all efficient sets; `listed`: answers read off them;
`stairs`: the curve where only the solver can answer; `adding`: what one thing more costs on top.

>>> from decimal import Decimal
>>> from shopflow.compute.scope import Choice, fit
>>> fit([Choice("tune", Decimal(90), 2), Choice("voice", Decimal(60), 1)], Decimal(100), {}, []).chosen
('tune',)
"""

from shopflow.compute.scope.adding import Adding
from shopflow.compute.scope.answers import Curve, Fit, NextStep, Point
from shopflow.compute.scope.choices import Choice
from shopflow.compute.scope.fitting import Question, ask, curve, fit

__all__ = ["Adding", "Choice", "Curve", "Fit", "NextStep", "Point", "Question", "ask", "curve", "fit"]
