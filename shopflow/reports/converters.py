"""ISO weeks in addresses: /reports/2026-W48/."""

from __future__ import annotations

from shopflow.compute.calendar import IsoWeek
from shopflow.compute.errors import ComputeError


class WeekConverter:
    regex = "[0-9]{4}-W[0-9]{2}"

    def to_python(self, written: str) -> IsoWeek:
        try:
            return IsoWeek.parse(written)
        except ComputeError as wrong:
            # A week that its year does not have is an address that does not exist.
            raise ValueError(written) from wrong

    def to_url(self, week: IsoWeek | str) -> str:
        return str(week)
