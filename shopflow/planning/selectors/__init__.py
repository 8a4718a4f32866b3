"""Questions that planning answers."""

from .year import YearSheet, closed_around, target_of, weekdays_worked, year_sheet

__all__ = ["YearSheet", "closed_around", "target_of", "weekdays_worked", "year_sheet"]
