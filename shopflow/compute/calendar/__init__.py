"""The shop's time: ISO weeks, the working weeks of a year, and hours counted over shifts and closed days."""

from shopflow.compute.calendar.shifts import WorkCalendar
from shopflow.compute.calendar.weeks import IsoWeek, weeks_in_year
from shopflow.compute.calendar.year import target_to_date, working_weeks

__all__ = ["IsoWeek", "WorkCalendar", "target_to_date", "weeks_in_year", "working_weeks"]
