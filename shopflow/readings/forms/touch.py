"""Forms about keys and bridges: lead, values of an action, samples, bearing."""

from __future__ import annotations

from typing import Any

from django import forms

from shopflow.common.forms import LineField, WholeNumberField
from shopflow.readings.measures import LENGTH
from shopflow.readings.models import Phase
from shopflow.readings.sums.lead import GRAMS
from shopflow.readings.wires import FINE

from .scale import AmountField, InUnits


class WeightForm(InUnits):
    """Down and up weight of one key."""

    down_g = AmountField(label="Down", quantity=GRAMS, least=0, most=1000)
    up_g = AmountField(label="Up", quantity=GRAMS, least=0, most=1000)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        down, up = said.get("down_g"), said.get("up_g")
        if down is not None and up is not None and up > down:
            self.add_error("up_g", f"Up {up:g} g over down {down:g} g: one of them was misread.")
        return said


class LeadPlanForm(InUnits):
    """Which balance is wanted, and where lead would sit."""

    wanted_g = AmountField(label="Balance weight wanted", quantity=GRAMS, least=20, most=80, initial="39")
    lead_at_mm = AmountField(
        label="Lead sits in front of the balance pin by", quantity=LENGTH, least=10, most=260
    )
    felt_at_mm = AmountField(label="Weights are read in front of it by", quantity=LENGTH, least=60, most=300)


class ValueForm(InUnits):
    bass_mm = AmountField(label="In the bass", quantity=FINE, least=0, most=100)
    treble_mm = AmountField(label="In the treble", quantity=FINE, least=0, most=100)
    tolerance_mm = AmountField(label="May be off by", quantity=FINE, least=0, most=20)
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=2**31)


class SampleForm(InUnits):
    phase = forms.ChoiceField(
        label="When", choices=[(Phase.BEFORE, "before"), (Phase.AFTER, "after")], widget=forms.RadioSelect
    )
    note = WholeNumberField(label="Note", least=1, most=88)
    read_mm = AmountField(label="Read", quantity=FINE, least=-20, most=200)


class BearingForm(InUnits):
    """Front and back of one section, as gauge or feeler gives them."""

    phase = forms.ChoiceField(
        label="When", choices=[(Phase.BEFORE, "before"), (Phase.AFTER, "after")], widget=forms.RadioSelect,
        initial=Phase.BEFORE,
    )  # fmt: skip
    section = LineField(label="Section", max_length=20)
    front_mm = AmountField(
        label="Front: the bridge stands above the line by", quantity=FINE, least=-30, most=30,
        help_text="Less than nothing where the string lifts off.",
    )  # fmt: skip
    front_over_mm = AmountField(
        label="read over a length of", quantity=LENGTH, least=5, most=2000, initial="100"
    )
    back_mm = AmountField(label="Back: above the line by", quantity=FINE, least=-30, most=30)
    back_over_mm = AmountField(
        label="read over a length of", quantity=LENGTH, least=5, most=2000, initial="50"
    )
    yes = forms.BooleanField(label="Measured again: keep it so", required=False)
