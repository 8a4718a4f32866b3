"""Plain SVG charts for pages and PDF: each has a title, a description and its figures as a table.

    from shopflow.common import charts

    year = charts.lines(title="Finished this year", description="31 of 70 by week 26.",
                        labels=weeks, series=[charts.Series("finished", counts)],
                        target=charts.Target("needed", needed), step=True)
    # on a page: {% chart year %}     for typst: year.svg(for_pdf=True)

Departments are told by name and pattern first and by colour only after; red is never used here.
"""

from shopflow.common.charts.bars import bars, stacked_bars
from shopflow.common.charts.chart import Band, Chart, Load, Mark, Series, Span, Target
from shopflow.common.charts.control import control_chart
from shopflow.common.charts.lines import lines
from shopflow.common.charts.loads import load_bar, load_bars
from shopflow.common.charts.stairs import stairs
from shopflow.common.charts.strips import dots, spans

__all__ = [
    "Band",
    "Chart",
    "Load",
    "Mark",
    "Series",
    "Span",
    "Target",
    "bars",
    "control_chart",
    "dots",
    "lines",
    "load_bar",
    "load_bars",
    "spans",
    "stacked_bars",
    "stairs",
]
