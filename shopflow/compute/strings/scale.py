"""A whole scale at once: what every note carries, what all of them pull, and where the run is uneven."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, some, whole
from shopflow.compute.strings.limits import measure, note_number
from shopflow.compute.strings.pitch import note_frequency_hz
from shopflow.compute.strings.stiffness import inharmonicity
from shopflow.compute.strings.tension import Loads, load_sums, plain_linear_density, tension_n
from shopflow.compute.strings.wire import A228_MINIMUM, BreakingShare, breaking_share
from shopflow.compute.strings.wound import wound_linear_density

# By definition: standard gravity, and the pound.
NEWTONS_PER_KG = 9.80665
NEWTONS_PER_LB = 4.4482216152605

# Common practice, no source, but for the pull: 150 to 200 lb a string, a handbook of tuning as reprinted.
USUAL_PULL_N = (150 * NEWTONS_PER_LB, 200 * NEWTONS_PER_LB)
HIGHEST_SHARE = 0.70
UNEVEN_STEP = 0.08


class ScaleString(NamedTuple):
    """The strings of one note as they stand in a scale; `wire_mm` is the core where there is a cover."""

    note: int
    strings: int
    length_mm: float
    wire_mm: float
    cover_mm: float | None = None
    section: str = ""


class NoteFigures(NamedTuple):
    """What one note carries: tension is that of one string, load that of all its strings.

    `breaking_share` is None where no table knows the wire, `inharmonicity` where the string is wound: the
    formula holds for plain wire alone.
    """

    note: int
    section: str
    strings: int
    is_wound: bool
    frequency_hz: float
    linear_density_g_m: float
    tension_n: float
    breaking_share: BreakingShare | None
    inharmonicity: float | None
    load_n: float


class Break(NamedTuple):
    """Between two notes the section, the winding or the number of strings changes; `step` of the tension."""

    below: int
    above: int
    is_section: bool
    is_winding: bool
    is_count: bool
    step: float


class Oddity(NamedTuple):
    """Something to look at again, from note `first` to `last`, with the lowest and highest figure there.

    `kind`: "longer" a speaking length not shorter than that of the note below · "thicker" plain wire thicker
    than below · "step" a step of the tension · "slack" and "tight" beside the usual pull · "near breaking".
    """

    kind: str
    first: int
    last: int
    low: float
    high: float


class ScaleFigures(NamedTuple):
    """A scale reckoned through, its notes upward."""

    notes: list[NoteFigures]
    loads: Loads
    breaks: list[Break]
    oddities: list[Oddity]


def scale_figures(
    strings: Iterable[ScaleString],
    *,
    a4_hz: float = 440.0,
    strength_mpa: float | None = None,
    figure: str = A228_MINIMUM,
) -> ScaleFigures:
    """Reckon a whole scale: tension, breaking share, inharmonicity, load of each note, sums, uneven places.

    Parameters: `strings` 1 to 88 ScaleString, each note once, 1 to 4 strings each; `a4_hz` pitch of note 49;
    `strength_mpa` or `figure` the strength to reckon by (see `breaking_share`).
    Result: ScaleFigures, loads by section. Errors: ComputeError for a value outside its span or a note twice.
    Source: `tension_n`, `wound_linear_density`, `breaking_share`, `inharmonicity`. What counts as uneven (a
    step over 8 % inside a section, a share over 0.70) is common practice, no source; the usual pull of 150 to
    200 lb is a handbook's. Sums for comparing scales, no permission: local codes and licensed practice rule.

    >>> done = scale_figures([ScaleString(49, 3, 400, 0.975), ScaleString(50, 3, 378, 0.975)])
    >>> [round(each.tension_n) for each in done.notes], round(done.loads.total_n)
    ([726, 728], 4362)
    """
    rows = _in_order(strings)
    notes = [_figures(row, a4_hz, strength_mpa, figure) for row in rows]
    breaks = [
        _break(low, high) for low, high in pairwise(notes) if _differs(low, high)
    ]  # fmt: skip
    loads = load_sums((each.section, each.tension_n, each.strings) for each in notes)
    return ScaleFigures(notes, loads, breaks, _oddities(rows, notes))


def _in_order(strings: Iterable[ScaleString]) -> list[ScaleString]:
    rows = some("strings", strings, at_most=88)
    if any(not isinstance(row, ScaleString) for row in rows):
        raise ComputeError("strings", "something else", "ScaleString of each note")
    ordered = sorted(rows, key=lambda row: note_number(row.note))
    twice = next((low.note for low, high in pairwise(ordered) if low.note == high.note), None)
    if twice is not None:
        raise ComputeError("note", f"note {twice} twice", "each note once")
    return ordered


def _figures(row: ScaleString, a4_hz: float, strength_mpa: float | None, figure: str) -> NoteFigures:
    hz = note_frequency_hz(row.note, a4_hz)
    count = whole("strings", row.strings, at_least=1, at_most=4)
    is_wound = row.cover_mm is not None
    mass = (
        plain_linear_density(row.wire_mm)
        if row.cover_mm is None
        else wound_linear_density(row.wire_mm, row.cover_mm)
    )
    pull = tension_n(hz, row.length_mm, linear_density_g_m=mass)
    return NoteFigures(
        row.note, row.section, count, is_wound, hz, mass, pull,
        _share(pull, row.wire_mm, strength_mpa, figure),
        None if is_wound else inharmonicity(pull, row.length_mm, row.wire_mm),
        pull * count,
    )  # fmt: skip


def _share(pull: float, wire_mm: float, strength_mpa: float | None, figure: str) -> BreakingShare | None:
    """None for a wire thinner or thicker than the table of strengths knows, or a pull beyond all measure."""
    try:
        return breaking_share(pull, wire_mm, strength_mpa=strength_mpa, figure=figure)
    except ComputeError as unknown:
        if unknown.field == "diameter_mm":
            measure("diameter_mm", wire_mm)
            return None
        raise


def _differs(low: NoteFigures, high: NoteFigures) -> bool:
    return (low.section, low.is_wound, low.strings) != (high.section, high.is_wound, high.strings)


def _break(low: NoteFigures, high: NoteFigures) -> Break:
    step = high.tension_n / low.tension_n - 1
    return Break(
        low.note,
        high.note,
        low.section != high.section,
        low.is_wound != high.is_wound,
        low.strings != high.strings,
        step,
    )


def _oddities(rows: Sequence[ScaleString], notes: Sequence[NoteFigures]) -> list[Oddity]:
    found: list[Oddity] = []
    for (row, low), (above, high) in pairwise(zip(rows, notes, strict=True)):
        if _differs(low, high) or high.note != low.note + 1:
            continue
        if above.length_mm >= row.length_mm:
            found.append(Oddity("longer", above.note, above.note, above.length_mm, row.length_mm))
        if not high.is_wound and above.wire_mm > row.wire_mm:
            found.append(Oddity("thicker", above.note, above.note, above.wire_mm, row.wire_mm))
        step = high.tension_n / low.tension_n - 1
        if abs(step) > UNEVEN_STEP:
            found.append(Oddity("step", low.note, high.note, step, step))
    least, most = USUAL_PULL_N
    found += _runs("near breaking", [(n.note, n.breaking_share or 0.0) for n in notes], above=HIGHEST_SHARE)
    found += _runs("tight", [(n.note, n.tension_n) for n in notes], above=most)
    found += _runs("slack", [(n.note, n.tension_n) for n in notes], below=least)
    return found


def _runs(
    kind: str, figures: list[tuple[int, float]], *, above: float | None = None, below: float | None = None
) -> list[Oddity]:
    """Neighbouring notes beyond a limit, told together."""
    found: list[Oddity] = []
    for note, value in figures:
        if (above is not None and value <= above) or (below is not None and value >= below):
            continue
        last = found[-1] if found else None
        if last and last.last == note - 1:
            found[-1] = Oddity(kind, last.first, note, min(last.low, value), max(last.high, value))
        else:
            found.append(Oddity(kind, note, note, value, value))
    return found


def kg_of(newtons: float) -> float:
    """Tell a pull in kilograms of weight.

    Parameters: `newtons` a finite number. Result: kg. Errors: ComputeError. Source: standard gravity.

    >>> round(kg_of(765), 1)
    78.0
    """
    return number("newtons", newtons) / NEWTONS_PER_KG


def lb_of(newtons: float) -> float:
    """Tell a pull in pounds.

    Parameters: `newtons` a finite number. Result: lb. Errors: ComputeError. Source: the pound's definition.

    >>> round(lb_of(843.766), 2)
    189.69
    """
    return number("newtons", newtons) / NEWTONS_PER_LB
