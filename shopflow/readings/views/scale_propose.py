"""New wires proposed, and two scales beside each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from shopflow.catalogue.models import SheetKind, Units
from shopflow.common.refusals import Refused
from shopflow.compute.strings import UNEVEN_STEP
from shopflow.instruments.selectors import instrument_or_404
from shopflow.people.access import Deed
from shopflow.people.door import me, only
from shopflow.readings import scale_pictures, scale_words
from shopflow.readings.benches import require_write
from shopflow.readings.forms.scale import PULL, WRAP, ProposeForm
from shopflow.readings.note_names import note_name
from shopflow.readings.selectors.scale import Line, Reckoned, Sum, reckon, scale_or_404, units_of_the_shop
from shopflow.readings.services import proposals

from .scale import page_context


@only(Deed.READINGS)
@require_http_methods(["GET", "HEAD", "POST"])
def propose(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """What new wires are to do; sent, a proposal stands beside the scale."""
    scale, units = scale_or_404(instrument_or_404(number), pk), units_of_the_shop()
    require_write(me(request), SheetKind.STRINGS)
    shown = reckon(scale, units)
    if request.method != "POST":
        return _page(request, shown, ProposeForm(units=units, initial=_first(shown)))
    form = ProposeForm(request.POST, units=units)
    if form.is_valid():
        try:
            made = proposals.propose(
                base=scale, wishes=form.wishes(), name=form.cleaned_data["name"], by=me(request)
            )
        except Refused as refused:
            form.add_error(None, refused.message)
        else:
            messages.success(request, "Here is a proposal. It is a sum, not a permission.")
            return redirect("readings:scale-beside", number=number, pk=scale.pk, other=made.pk)
    return _page(request, shown, form, status=422)


def _first(shown: Reckoned) -> dict[str, str]:
    """The pulls that the strings have now, so that a proposal begins with what the plate is used to."""
    unit = PULL.unit(shown.units)

    def said(newtons: float) -> str:
        return f"{unit.shown(newtons):.0f}"

    plain = [line.figures.tension_n for line in shown.lines if not line.row.is_wound]
    wound = [line.figures.tension_n for line in shown.lines if line.row.is_wound]
    first = {"plain_pull": said(sum(plain) / len(plain))} if plain else {}
    if wound:
        first |= {"low_pull": said(wound[0]), "break_pull": said(wound[-1])}
    step_mm = 0.0254 if shown.units == Units.INCH else 0.01
    return first | {"wrap_step": f"{WRAP.unit(shown.units).shown(step_mm):.3g}"}


def _page(request: HttpRequest, shown: Reckoned, form: ProposeForm, *, status: int = 200) -> HttpResponse:
    context = page_context(request, shown) | {"form": form}
    return render(request, "readings/scale_propose.html", context, status=status)


@dataclass(frozen=True, slots=True)
class Pair:
    """One note of both scales."""

    note: int
    name: str
    old: Line | None
    new: Line | None

    @property
    def is_rewired(self) -> bool:
        if self.old is None or self.new is None:
            return False
        return (self.old.wire, self.old.cover) != (self.new.wire, self.new.cover)


@only(Deed.SEE_SHOP)
@require_safe
def beside(request: HttpRequest, number: str, pk: int, other: int) -> HttpResponse:
    """Old and new beside each other: sums, curves, note by note."""
    instrument, units = instrument_or_404(number), units_of_the_shop()
    if pk == other:
        raise Http404("A scale stands beside another one, not beside itself.")
    old, new = (reckon(scale_or_404(instrument, each), units) for each in (pk, other))
    context = page_context(request, new) | {
        "old": old,
        "new": new,
        "pairs": _pairs(old, new),
        "sums": _sums(old, new),
        "curves": scale_pictures.curves(old, new),
        "facts": [(label, told(old), told(new)) for label, told in _TOLD],
        "oddities": scale_words.oddities_in_words(new.figures, units),
        "breaks": scale_words.breaks_in_words(new.breaks),
    }
    return render(request, "readings/scale_beside.html", context)


def _pairs(old: Reckoned, new: Reckoned) -> list[Pair]:
    before, after = ({line.row.note: line for line in each.lines} for each in (old, new))
    both = sorted(before.keys() | after.keys())
    return [Pair(note, note_name(note), before.get(note), after.get(note)) for note in both]


def _sums(old: Reckoned, new: Reckoned) -> list[tuple[str, Sum | None, Sum | None]]:
    before, after = ({each.name: each for each in one.sections} for one in (old, new))
    names = list(dict.fromkeys([*before, *after]))
    return [
        *((name, before.get(name), after.get(name)) for name in names),
        ("the whole scale", old.total, new.total),
    ]


def _steps(shown: Reckoned) -> str:
    """How many steps inside sections are uneven, and the largest."""
    steps = [odd.low for odd in shown.figures.oddities if odd.kind == "step"] if shown.figures else []
    if not steps:
        return f"none over {UNEVEN_STEP:.0%}"
    return f"{len(steps)} over {UNEVEN_STEP:.0%}, the largest {max(abs(step) for step in steps):.0%}"


def _plain(shown: Reckoned) -> Sequence[Line]:
    return [line for line in shown.lines if not line.row.is_wound]


def _highest_share(shown: Reckoned) -> str:
    shares = [(line.figures.breaking_share, line.row.note) for line in shown.lines]
    known = [(share, note) for share, note in shares if share is not None]
    return f"{max(known)[0]:.0%} at note {max(known)[1]}" if known else "–"


def _sizes(shown: Reckoned) -> str:
    return str(len({line.wire for line in _plain(shown)}) or "–")


_TOLD: list[tuple[str, Callable[[Reckoned], str]]] = [
    ("Steps of tension inside a section", _steps),
    ("Highest share of the breaking load", _highest_share),
    ("Sizes of plain wire", _sizes),
]
