"""Questions about how the keys of an instrument play, and what its action is regulated to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from statistics import mean

from shopflow.compute.touch import OddKey, Touch, balance_and_friction, lead_for, odd_keys
from shopflow.instruments.models import Instrument
from shopflow.readings.models import KeyWeight, Phase, RegulatingSample, RegulatingValue
from shopflow.readings.note_names import note_name

# Less than this is not worth a hole in a key (common practice, no source).
LEAST_LEAD_G = 1.0


@dataclass(frozen=True, slots=True)
class Key:
    """One key as it was weighed in one phase."""

    row: KeyWeight

    @property
    def note(self) -> int:
        return self.row.note

    @property
    def name(self) -> str:
        return note_name(self.row.note)

    @property
    def touch(self) -> Touch:
        return balance_and_friction(self.row.down_g, self.row.up_g)


@dataclass(frozen=True, slots=True)
class Weighed:
    """All keys of one phase, with what stands out."""

    phase: str
    keys: Mapping[int, Key]
    odd: list[OddKey]

    @property
    def is_empty(self) -> bool:
        return not self.keys

    @property
    def label(self) -> str:
        return Phase(self.phase).label

    def mean_of(self, what: str) -> float | None:
        values = [getattr(key.touch, f"{what}_g") for key in self.keys.values()]
        return mean(values) if values else None

    @property
    def balance(self) -> float | None:
        return self.mean_of("balance")

    @property
    def friction(self) -> float | None:
        return self.mean_of("friction")

    @property
    def down(self) -> float | None:
        return mean(key.row.down_g for key in self.keys.values()) if self.keys else None

    @property
    def up(self) -> float | None:
        return mean(key.row.up_g for key in self.keys.values()) if self.keys else None


def weighed(instrument: Instrument) -> dict[str, Weighed]:
    """What stands of each phase, before first. One query."""
    rows = instrument.key_weights.filter(struck_at=None).select_related("by").order_by("note")
    return gathered(rows)


def gathered(rows: Iterable[KeyWeight]) -> dict[str, Weighed]:
    by_phase: dict[str, dict[int, Key]] = {phase: {} for phase in Phase.values}
    for row in rows:
        by_phase[row.phase][row.note] = Key(row)
    return {phase: Weighed(phase, keys, _odd(keys)) for phase, keys in by_phase.items()}


def _odd(keys: Mapping[int, Key]) -> list[OddKey]:
    if not keys:
        return []
    return odd_keys({note: (key.row.down_g, key.row.up_g) for note, key in keys.items()})


@dataclass(frozen=True, slots=True)
class LeadLine:
    """What one key needs to come to the wanted balance: lead to add, or (less than 0) to take out."""

    key: Key
    lower_by_g: float
    lead_g: float

    @property
    def adds(self) -> bool:
        return self.lead_g > 0


def lead_lines(
    keys: Iterable[Key], *, wanted_g: float, lead_at_mm: float, felt_at_mm: float
) -> list[LeadLine]:
    """Keys that are at least a gram of lead away from the wanted balance weight."""
    lines = []
    for key in keys:
        off = key.touch.balance_g - wanted_g
        lead = lead_for(min(abs(off), 200), lead_at_mm, felt_at_mm) * (1 if off > 0 else -1)
        if abs(lead) >= LEAST_LEAD_G:
            lines.append(LeadLine(key, off, lead))
    return lines


@dataclass(frozen=True, slots=True)
class Sample:
    """One sample note of one value, before and after."""

    note: int
    aim_mm: float
    tolerance_mm: float
    before: RegulatingSample | None
    after: RegulatingSample | None

    @property
    def name(self) -> str:
        return note_name(self.note)

    @property
    def latest(self) -> RegulatingSample | None:
        return self.after or self.before

    @property
    def off_mm(self) -> float | None:
        """By how much the latest reading lies outside aim and tolerance; 0 where it is inside."""
        if self.latest is None:
            return None
        off = self.latest.read_mm - self.aim_mm
        beyond = abs(off) - self.tolerance_mm
        return 0.0 if beyond <= 1e-9 else beyond * (1 if off > 0 else -1)


@dataclass(frozen=True, slots=True)
class Regulated:
    """One dimension of the action with its sample notes."""

    value: RegulatingValue
    samples: list[Sample]

    @property
    def off_count(self) -> int:
        return sum(1 for sample in self.samples if sample.off_mm)


def regulated(instrument: Instrument) -> list[Regulated]:
    """The instrument's own values with what was read of each. Two queries."""
    values = list(instrument.regulating_values.all())
    rows = RegulatingSample.objects.filter(value__in=values, struck_at=None).select_related("by")
    found: dict[tuple[int, int], dict[str, RegulatingSample]] = {}
    for row in rows:
        found.setdefault((row.value_id, row.note), {})[row.phase] = row
    return [Regulated(value, _samples(value, found)) for value in values]


def _samples(
    value: RegulatingValue, found: Mapping[tuple[int, int], Mapping[str, RegulatingSample]]
) -> list[Sample]:
    return [_sample(value, note, found[pk, note]) for pk, note in sorted(found) if pk == value.pk]


def _sample(value: RegulatingValue, note: int, rows: Mapping[str, RegulatingSample]) -> Sample:
    before = rows.get(Phase.BEFORE)
    after = rows.get(Phase.AFTER) or rows.get(Phase.DURING)
    return Sample(note, value.at_note(note), value.tolerance_mm, before, after)
