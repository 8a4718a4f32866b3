"""What to do for this money: ``fit`` the best work to a budget, or see the whole ``curve``.

>>> from decimal import Decimal
>>> from shopflow.compute.scope import Choice, fit
>>> fit([Choice("tune", Decimal(90), 2), Choice("voice", Decimal(60), 1)], Decimal(100), {}, []).chosen
('tune',)
"""

from shopflow.compute.scope.choices import Choice
from shopflow.compute.scope.fitting import Curve, Fit, NextStep, Point, curve, fit

__all__ = ["Choice", "Curve", "Fit", "NextStep", "Point", "curve", "fit"]
