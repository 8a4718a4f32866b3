"""What the plan that stood when a week ended says of the rest of its year."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils import timezone

from shopflow.catalogue.selectors import the_shop
from shopflow.compute.calendar import IsoWeek
from shopflow.planning.selectors.load import load_table
from shopflow.planning.selectors.narrow import narrow_place
from shopflow.planning.selectors.plans import published
from shopflow.reports.figures import Ahead

# A plan of the Monday night after the week still speaks of it; one of the days after next no longer does.
STILL_OF_THE_WEEK = timedelta(days=2)


def ahead_of(week: IsoWeek, *, now: datetime) -> Ahead | None:
    """The outlook that belongs into the report of a week; None when no plan of those days stands.

    A report made much later has none: what was thought then is not known any more.
    """
    plan = published()
    told = (plan.figures.get("year") if plan else None) or {}
    if plan is None or told.get("year") != week.year:
        return None
    begins, ends = week.bounds_utc(the_shop().zone)
    if not begins <= plan.begins_at < ends + STILL_OF_THE_WEEK:
        return None
    narrow = narrow_place(load_table(plan, now=now))
    return {
        "planned_on": timezone.localdate(plan.begins_at).isoformat(),
        "year": told["year"],
        "target": told["target"],
        "odds": told["odds"],
        "mean": told["mean"],
        "p10": told["p10"],
        "p50": told["p50"],
        "p90": told["p90"],
        "weeks": told.get("weeks", []),
        "narrow": f"{narrow.department.name} is the narrow place. {narrow.words}" if narrow else "",
    }
