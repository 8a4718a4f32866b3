"""Lead to add to a key, and where: the same grams at the finger weigh differently on the hand's speed."""

from __future__ import annotations

from shopflow.compute.touch import lead_for, lead_inertia_kg_m2
from shopflow.readings.forms.fields import MeasureField, SumForm
from shopflow.readings.measures import LENGTH, Quantity, Unit, add_quantities
from shopflow.readings.parts import Given, Outcome, Output, Sum

# Weights at the key are in grams in every shop.
GRAMS = Quantity("grams", Unit("g"), Unit("g"), 1, 1)
INERTIA = Quantity("inertia", Unit("kg cm²", 1e-4), Unit("kg cm²", 1e-4), 2, 2)
add_quantities(GRAMS, INERTIA)
STEPS = (0.4, 0.6, 0.8, 1.0)


class LeadForm(SumForm):
    lower_by_g = MeasureField(label="The key shall play lighter by", quantity=GRAMS, least=0.1, most=60)
    lead_at_mm = MeasureField(
        label="Lead sits in front of the balance pin by", quantity=LENGTH, least=10, most=260, initial="130"
    )
    felt_at_mm = MeasureField(
        label="The weight is read in front of it by", quantity=LENGTH, least=60, most=300, initial="210"
    )


def answer(given: Given) -> Outcome:
    lead = lead_for(**given)
    rows = [_row(given, share) for share in STEPS if given["felt_at_mm"] * share >= 1]
    return Outcome(
        outputs=[
            Output("lead_g", "Lead to add there", lead, GRAMS),
            Output(
                "inertia", "which slows the key by", lead_inertia_kg_m2(lead, given["lead_at_mm"]), INERTIA
            ),
        ],
        notes=[
            "Friction stays as it is: ease it first, lead afterwards.",
            "The nearer to the balance pin, the more lead and the quicker the key: of the same effect at the "
            "finger, lead at 195 mm slows the key half as much again as at 130 mm.",
        ],
        heads=("place in front of the pin", "lead", "slows the key by"),
        rows=rows,
    )


def _row(given: Given, share: float) -> list[str]:
    place = given["felt_at_mm"] * share
    lead = lead_for(given["lower_by_g"], place, given["felt_at_mm"])
    return [f"{place:.0f} mm", f"{lead:.1f} g", f"{lead_inertia_kg_m2(lead, place) * 1e4:.2f} kg cm²"]


SUM = Sum(
    code="lead",
    title="Lead to add, and where",
    intro="From how much lighter the key shall play to the grams of lead at a place of the key.",
    source="The lever about the balance rail (technicians’ list, January 2005); m x² for the speed (S. "
    "Birkett, "
    "2003).",
    version="touch 1",
    form=LeadForm,
    answer=answer,
    button="Work out the lead",
    usual=lambda task, units: {} if units == "metric" else {"lead_at_mm": "5", "felt_at_mm": "8.25"},
)
