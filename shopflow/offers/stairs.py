"""The picture of a scope: how much of the harm each sum of money takes away."""

from __future__ import annotations

from decimal import Decimal

from shopflow.common import charts
from shopflow.common.charts import Chart
from shopflow.offers.selectors.scope import Answer, Asked

POINTS = 60


def picture(question: Asked, budget: Decimal, found: Answer | None, address: str) -> Chart:
    """The staircase with the budget marked; each step leads to its own sum."""
    weighing, sign = question.weighing, question.weighing.terms.currency
    whole = weighing.whole_harm or 1.0
    steps = [(price, 100 * worth / whole) for price, worth in question.outline(POINTS)]
    if found and found.price not in {price for price, _ in steps}:
        steps = sorted([*steps, (found.price, found.share)])
    return charts.stairs(
        title="What each sum of money takes away",
        description=_told(steps, found, sign),
        steps=steps,
        head="price",
        of="of all harm found, %",
        sign=sign,
        marked=(budget, f"budget {sign}{budget:,.0f}"),
        here=found.price if found else None,
        address=lambda money: f"{address}{Decimal(money):.0f}",
    )


def suggested(question: Asked) -> Decimal:
    """A budget to begin with: the first that takes away at least half of what money can."""
    outline = question.outline(200)
    half = (outline[0][1] + outline[-1][1]) / 2
    return next(price for price, worth in outline if worth >= half)


def _told(steps: list[tuple[Decimal, float]], found: Answer | None, sign: str) -> str:
    least, most = steps[0], steps[-1]
    ends = (
        f"{sign}{least[0]:,.0f} takes away {least[1]:.0f} % of the harm that was found, "
        f"{sign}{most[0]:,.0f} takes away {most[1]:.0f} %."
    )
    if not found:
        return f"The budget is below the first step. {ends}"
    return f"This budget: {found.share:.0f} % for {sign}{found.price:,.0f}. {ends}"
