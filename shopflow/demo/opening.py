"""When the demo's shop is open: nobody signs, promises or packs on a day on which nobody works."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.utils import timezone

from shopflow.planning.models import ClosedDay

FRIDAY = 4


@dataclass(frozen=True, slots=True)
class Opening:
    """The open days of a shop in its own time zone."""

    zone: ZoneInfo
    closed: frozenset[date] = field(default_factory=frozenset)

    @classmethod
    def of_the_shop(cls, zone: ZoneInfo) -> Opening:
        return cls(zone, frozenset(ClosedDay.objects.values_list("day", flat=True)))

    def is_open(self, day: date) -> bool:
        return day.weekday() <= FRIDAY and day not in self.closed

    def day_of(self, moment: datetime) -> date:
        return timezone.localtime(moment, self.zone).date()

    def on_or_after(self, day: date) -> date:
        while not self.is_open(day):
            day += timedelta(days=1)
        return day

    def after(self, day: date) -> date:
        return self.on_or_after(day + timedelta(days=1))

    def on_or_before(self, day: date) -> date:
        while not self.is_open(day):
            day -= timedelta(days=1)
        return day

    def at(self, day: date, hour: float) -> datetime:
        return datetime.combine(day, time(0), tzinfo=self.zone) + timedelta(hours=hour)

    def noticed(self, moment: datetime, rng: random.Random) -> datetime:
        """When somebody sees that something is over: in the working hours of an open day."""
        day, hour = self.day_of(moment), 8.3 + rng.random() * 7
        if not self.is_open(day) or moment > self.at(day, hour):
            day = self.after(day)
        return self.at(day, hour)

    def working_moment(self, moment: datetime) -> datetime:
        """The same moment, or one of the same hour on the last open day before it; between nine and four."""
        local = timezone.localtime(moment, self.zone)
        hour = min(max(local.hour + local.minute / 60, 9.0), 15.9)
        return self.at(self.on_or_before(local.date()), hour)
