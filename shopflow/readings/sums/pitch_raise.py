"""What tension returns at each pass of a pitch raise, or goes at each pass of letting down."""

from __future__ import annotations

from shopflow.common.forms import LineField
from shopflow.compute.errors import ComputeError
from shopflow.compute.strings import kg_of, lb_of, tension_passes
from shopflow.compute.strings.scale import NEWTONS_PER_LB
from shopflow.readings.forms.fields import MeasureField, SumForm
from shopflow.readings.measures import NotAMeasure, Quantity, Unit, add_quantities, read_measure
from shopflow.readings.parts import Given, Outcome, Output, Sum
from shopflow.readings.selectors.scale import latest_total_n
from shopflow.workshop.models import Task

FORCE = Quantity("force", Unit("N", also=("n",)), Unit("lb", NEWTONS_PER_LB, also=("lbf", "lbs")), 0, 0)
CENTS = Quantity("cents", Unit("cents", also=("cent", "c")), Unit("cents", also=("cent", "c")), 0, 0)
add_quantities(FORCE, CENTS)


class RaiseForm(SumForm):
    full_tension_n = MeasureField(
        label="All strings at pitch pull", quantity=FORCE, least=1_000, most=400_000,
        help_text="from the instrument’s scale where there is one;",
    )  # fmt: skip
    from_cents = MeasureField(label="The pitch stands at", quantity=CENTS, least=-1200, most=300)
    aims_cents = LineField(
        label="Each pass aims at, cents", max_length=80, initial="-40 0",
        help_text="One figure for each pass, such as -40 10 0.",
    )  # fmt: skip


def answer(given: Given) -> Outcome:
    aims = _aims(str(given["aims_cents"]))
    passes = tension_passes(given["full_tension_n"], given["from_cents"], aims)
    first = given["full_tension_n"] * 2 ** (given["from_cents"] / 600)
    whole = passes[-1].tension_n - first
    rows = [
        [
            f"{place}: to {each.aim_cents:g} cents",
            f"{each.returned_n:,.0f} N",
            f"{kg_of(each.returned_n):,.0f} kg",
            f"{lb_of(each.returned_n):,.0f} lb",
            f"{each.returned_share:.1%}",
        ]
        for place, each in enumerate(passes, start=1)
    ]
    return Outcome(
        outputs=[
            Output("before_n", "The strings pull now", first, FORCE),
            Output("whole_n", "In all passes together returns", whole, FORCE),
            Output("after_n", "They pull then", passes[-1].tension_n, FORCE),
        ],
        notes=[
            "Tension goes with the square of pitch. Less than nothing: freed. How many passes, and how far "
            "over "
            "pitch, is the technician’s judgement; old wire may break while it is raised."
        ],
        heads=("pass", "returns", "", "", "of the full tension"),
        rows=rows,
    )


def _aims(typed: str) -> list[float]:
    words = typed.replace(";", " ").replace("cents", " ").split()
    if not 1 <= len(words) <= 12:
        raise ComputeError("aims_cents", typed, "one to twelve figures, one for each pass")
    try:
        return [read_measure(word.strip(","), CENTS, "metric").value for word in words]
    except NotAMeasure as why:
        raise ComputeError("aims_cents", typed, "figures such as -40 10 0") from why


def usual(task: Task, units: str) -> dict[str, str]:
    newtons = latest_total_n(task.instrument)
    return {"full_tension_n": f"{FORCE.unit(units).shown(newtons):.0f}"} if newtons else {}


SUM = Sum(
    code="pitch-raise",
    title="Pitch raise or letting down",
    intro="What tension comes back, or is freed, at each pass.",
    source="Ideal string: T goes with f², ratio 2^(cents/600).",
    version="strings 1",
    form=RaiseForm,
    answer=answer,
    button="Work out the passes",
    usual=usual,
)
