"""What a bench sheet is made of: parts, in plain Python. A sum is a part that computes.

A sheet is a tuple of parts (`sheets/`). A sum is a module of its own (`sums/`): a form, a pure call into
`compute`, its outputs with units, a verdict in words where experts give one, a picture where looking is
better than reading, and a VERSION that is kept with every answer.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from shopflow.common.charts import Chart

from .forms.fields import SumForm
from .measures import QUANTITIES, Quantity

if TYPE_CHECKING:
    from shopflow.people.models import Person
    from shopflow.workshop.models import Task

Given = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Output:
    """One figure of an answer, in the kept unit of its quantity; or words."""

    name: str
    label: str
    value: float | str
    quantity: Quantity | None = None
    decimals: int | None = None

    def as_data(self) -> dict[str, Any]:
        code = self.quantity.code if self.quantity else ""
        return {
            "name": self.name,
            "label": self.label,
            "value": self.value,
            "quantity": code,
            "decimals": self.decimals,
        }


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a sum says: figures, a verdict in words (or none), and what to keep in mind.

    `tone` is good, wait or stop; empty where nobody gives a pass mark.
    """

    outputs: Sequence[Output]
    verdict: str = ""
    tone: str = ""
    notes: Sequence[str] = ()
    heads: Sequence[str] = ()
    rows: Sequence[Sequence[str]] = ()

    def as_data(self) -> dict[str, Any]:
        return {
            "said": [output.as_data() for output in self.outputs],
            "tone": self.tone,
            "notes": list(self.notes),
            "heads": list(self.heads),
            "rows": [list(row) for row in self.rows],
        }


@dataclass(frozen=True, slots=True)
class Sum:
    """One computation on a sheet. `answer` takes the kept values; `picture` what was given and what came out.

    `usual` says what a first look at the form shows, before anything was typed for this task.
    """

    code: str
    title: str
    intro: str
    source: str
    version: str
    form: type[SumForm]
    answer: Callable[[Given], Outcome]
    picture: Callable[[Given, Given, str], Chart | None] | None = None
    usual: Callable[[Task, str], dict[str, str]] | None = None
    button: str = "Work it out"
    # Upright or grand, where a sum fits only one of them.
    only_for: str = ""
    template = "readings/_part_sum.html"

    def fits(self, built: str) -> bool:
        return self.only_for in {"", built}


@dataclass(frozen=True, slots=True)
class Part:
    """A part that is not a sum: a template, and what it needs from the task, in a fixed number of queries.

    `said` in its context stands beside the title when it is folded; one that `leads` is never folded.
    """

    code: str
    title: str
    template: str
    context: Callable[[Task, Person], dict[str, Any]] = field(default=lambda task, viewer: {})
    leads: bool = False

    def fits(self, built: str) -> bool:
        return True


@dataclass(frozen=True, slots=True)
class Sheet:
    """One kind of bench sheet: its parts, which readings are taken on it, and which cautions stand on top."""

    kind: str
    parts: tuple[Sum | Part, ...] = ()
    reads: tuple[str, ...] = ()
    read_groups: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    # What stands at the head in a line or two: what this sheet is for, and what rules above it.
    lede: str = ""

    @property
    def sums(self) -> dict[str, Sum]:
        return {part.code: part for part in self.parts if isinstance(part, Sum)}


def written(said: Mapping[str, Any], units: str) -> str:
    """A stored figure as this shop reads it."""
    quantity = QUANTITIES.get(said["quantity"])
    if quantity is None or isinstance(said["value"], str):
        return str(said["value"])
    return quantity.written(said["value"], units, decimals=said["decimals"])
