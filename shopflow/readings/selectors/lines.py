"""Lines of sheets as pages show them: in the shop's units, struck ones with their reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from shopflow.catalogue.models import ReadingKind
from shopflow.common.charts import Chart
from shopflow.readings.measures import quantity_of, read_number, tidy
from shopflow.readings.models import Computed, Reading
from shopflow.readings.parts import written
from shopflow.readings.sheets import SUMS


@dataclass(frozen=True)
class Answered:
    """One answer of a sum, from its stored line."""

    line: Computed
    units: str

    @property
    def title(self) -> str:
        known = SUMS.get(self.line.code)
        return known.title if known else self.line.code

    @property
    def source(self) -> str:
        known = SUMS.get(self.line.code)
        return known.source if known else ""

    @property
    def typed(self) -> list[tuple[str, str]]:
        """Label and what was typed, with its unit."""
        return [
            (one["label"], one.get("words") or f"{one['typed']} {one.get('unit', '')}".strip())
            for one in self.line.typed.values()
        ]

    @property
    def figures(self) -> list[tuple[str, str]]:
        return [(said["label"], written(said, self.units)) for said in self.line.outputs.get("said", [])]

    @property
    def tone(self) -> str:
        return self.line.outputs.get("tone", "")

    @property
    def notes(self) -> list[str]:
        return self.line.outputs.get("notes", [])

    @property
    def heads(self) -> list[str]:
        return self.line.outputs.get("heads", [])

    @property
    def rows(self) -> list[list[str]]:
        return self.line.outputs.get("rows", [])

    @cached_property
    def picture(self) -> Chart | None:
        """Drawn from what is stored, so that it shows what was said then."""
        known = SUMS.get(self.line.code)
        if known is None or known.picture is None or self.line.measured_again:
            return None
        try:
            return known.picture(self._given(), self._got(), self.units)
        except (KeyError, TypeError, ValueError):
            # An answer of an older version may lack what today's picture draws.
            return None

    def _given(self) -> Mapping[str, Any]:
        return {name: one.get("value", one["typed"]) for name, one in self.line.typed.items()}

    def _got(self) -> Mapping[str, Any]:
        return {said["name"]: said["value"] for said in self.line.outputs.get("said", [])}


@dataclass(frozen=True, slots=True)
class ReadOff:
    """One reading, with its value as this shop reads it."""

    line: Reading
    units: str

    @property
    def value(self) -> str:
        return quantity_of(self.line.kind).written(self.line.value, self.units)

    @property
    def typed(self) -> str:
        """As typed, where that says more than the value: another unit or more digits."""
        quantity = quantity_of(self.line.kind)
        typed, places = read_number(self.line.typed), quantity.places(self.units)
        says_no_more = self.line.unit == quantity.unit(self.units).name and typed == round(typed, places)
        return "" if says_no_more else f"{self.line.typed} {self.line.unit}".strip()

    @property
    def is_unusual(self) -> bool:
        kind, value = self.line.kind, self.line.value
        low, high = kind.usual_low, kind.usual_high
        return (low is not None and value < low) or (high is not None and value > high)


def usual_words(kind: ReadingKind, units: str) -> str:
    """The usual range of a reading in the shop's units, or the words for it; empty where nobody gives one."""
    if kind.usual_words:
        return kind.usual_words
    unit = quantity_of(kind).unit(units)
    bounds = [
        tidy(unit.shown(float(each)), kind.decimals)
        for each in (kind.usual_low, kind.usual_high)
        if each is not None
    ]
    if not bounds:
        return ""
    one_sided = "" if len(bounds) == 2 else ("at least " if kind.usual_high is None else "at most ")
    return f"{one_sided}{' to '.join(bounds)} {unit.name}".strip()
