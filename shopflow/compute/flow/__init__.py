"""Statistics of flow with published sources: counts, control limits, intervals, queues and lead times."""

from shopflow.compute.flow.chart import NaturalLimits, Signal, natural_limits, signals
from shopflow.compute.flow.counts import (
    LeadTimes,
    lead_time_summary,
    percentile,
    percentiles,
    weekly_counts,
)
from shopflow.compute.flow.intervals import Interval, poisson_interval, wilson_interval
from shopflow.compute.flow.queues import Queue, erlang_c, littles_law

__all__ = [
    "Interval",
    "LeadTimes",
    "NaturalLimits",
    "Queue",
    "Signal",
    "erlang_c",
    "lead_time_summary",
    "littles_law",
    "natural_limits",
    "percentile",
    "percentiles",
    "poisson_interval",
    "signals",
    "weekly_counts",
    "wilson_interval",
]
