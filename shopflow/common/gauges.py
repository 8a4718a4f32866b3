"""The key gauge: a task's stages drawn as a short run of piano keys, one per stage (shapes: keys.py)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from shopflow.common import keys

_LETTER = {"racked": "k", "benched": "b", "resting": "r", "proving": "p", "signed": "s"}


@dataclass(frozen=True, slots=True)
class Gauge:
    """How far one task is: the kinds of its stages in order and the place it has reached.

    `at` counts from 0. `words` is what a screen reader says.

    >>> Gauge(("racked", "benched", "signed"), at=1).shape_id
    'g-kbs-1'
    """

    kinds: tuple[str, ...]
    at: int
    stopped: bool = False
    words: str = ""
    material: str = "neutral"

    def __post_init__(self) -> None:
        unknown = [kind for kind in self.kinds if kind not in keys.KINDS]
        if unknown:
            raise ValueError(f"kinds: got {unknown[0]!r}; allowed are {', '.join(keys.KINDS)}")
        if not 0 <= self.at < len(self.kinds):
            raise ValueError(f"at: got {self.at}; allowed is 0 to {len(self.kinds) - 1}")

    @property
    def shape_id(self) -> str:
        """The same for every gauge that looks the same, so that one drawing serves them all."""
        letters = "".join(_LETTER[kind] for kind in self.kinds)
        return f"g-{letters}-{self.at}{'x' if self.stopped else ''}"

    @property
    def view_box(self) -> str:
        return f"0 0 {keys.width(len(self.kinds)):g} {keys.HEIGHT}"

    @property
    def states(self) -> tuple[str, ...]:
        """For each stage "done", "now" or "ahead"; a signed task is done throughout."""
        if self.at == len(self.kinds) - 1 and self.kinds[-1] == "signed":
            return ("done",) * len(self.kinds)
        return ("done",) * self.at + ("now",) + ("ahead",) * (len(self.kinds) - self.at - 1)

    def drawing(self) -> str:
        return keys.run(self.kinds, self.states, self.at if self.stopped else None)


def gauge_words(*, department: str, stage: str, at: int, of: int, stopped_by: str = "") -> str:
    """What a gauge says aloud.

    >>> gauge_words(department="Refinishing", stage="built up", at=4, of=9)
    'Refinishing: built up, stage 5 of 9'
    >>> gauge_words(department="Plating", stage="trial fit", at=4, of=6, stopped_by="hinge missing")
    'Plating: trial fit, stage 5 of 6, stopped: hinge missing'
    """
    words = f"{department}: {stage}, stage {at + 1} of {of}"
    return f"{words}, stopped: {stopped_by}" if stopped_by else words


@dataclass(slots=True)
class GaugeSheet:
    """Collects the distinct drawings of a page, so that 1,800 gauges cost a few dozen drawings.

    A fragment that is swapped in carries a sheet of its own; a drawing met twice has the same id and looks
    the same, whichever of the two the browser takes.
    """

    shapes: dict[str, Gauge] = field(default_factory=dict)

    def cell(self, gauge: Gauge) -> SafeString:
        """The small drawing for one crossing; remembers what the sheet must hold."""
        self.shapes.setdefault(gauge.shape_id, gauge)
        return _frame(gauge, format_html('<use href="#{}"/>', gauge.shape_id))

    def svg(self) -> SafeString:
        """The hidden sheet of drawings, to be put once into the page or the fragment."""
        symbols = "".join(
            f'<symbol id="{gauge.shape_id}" viewBox="{gauge.view_box}">{gauge.drawing()}</symbol>'
            for gauge in self.shapes.values()
        )
        return mark_safe(f'<svg width="0" height="0" aria-hidden="true" focusable="false">{symbols}</svg>')


def alone(gauge: Gauge) -> SafeString:
    """One gauge with its drawing inside it, where no sheet is at hand."""
    return _frame(gauge, mark_safe(gauge.drawing()))


def _frame(gauge: Gauge, inside: SafeString) -> SafeString:
    width, height = gauge.view_box.split()[2:]
    return format_html(
        '<svg class="gauge m-{}" viewBox="{}" width="{}" height="{}" role="img" aria-label="{}">{}</svg>',
        gauge.material,
        gauge.view_box,
        width,
        height,
        gauge.words,
        inside,
    )


@dataclass(frozen=True, slots=True)
class NamedKey:
    """One stage of the large gauge: its key, its name, and the word for its state."""

    key: SafeString
    name: str
    state: str
    said: str
    stopped: bool
    here: bool


def named_keys(gauge: Gauge, names: Iterable[str]) -> list[NamedKey]:
    """The large gauge, stage by stage."""
    return [
        _named_key(gauge, place, name, state)
        for place, (name, state) in enumerate(zip(names, gauge.states, strict=True))
    ]


def _named_key(gauge: Gauge, place: int, name: str, state: str) -> NamedKey:
    here = place == gauge.at
    stopped = here and gauge.stopped
    said = "stopped" if stopped else {"done": "done", "now": "now", "ahead": ""}[state]
    key = keys.alone(gauge.kinds[place], state, stopped=stopped)
    return NamedKey(key, name, state, said, stopped, here)
