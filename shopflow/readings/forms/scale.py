"""Forms about scales: what a scale is, what a proposal is asked for, a pitch raise, a file."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from shopflow.catalogue.models import Units
from shopflow.common.forms import LineField
from shopflow.compute.strings import FIGURES
from shopflow.compute.strings.scale import NEWTONS_PER_LB
from shopflow.readings.measures import NotAMeasure, Quantity, Unit, read_measure
from shopflow.readings.models import StringScale
from shopflow.readings.services.proposals import Wishes
from shopflow.workshop.services.bringing.reading import MOST_BYTES

PULL = Quantity("pull", Unit("N"), Unit("lb", NEWTONS_PER_LB, also=("lbs", "lbf")), 0, 0)
PITCH = Quantity("pitch", Unit("Hz", also=("hz",)), Unit("Hz"), 1, 1)
STRENGTH = Quantity("strength", Unit("MPa", also=("mpa",)), Unit("ksi", 6.894757293168361), 0, 0)
SHARE = Quantity("share", Unit("%"), Unit("%"), 0, 0)
CENTS = Quantity("cents", Unit("cents", also=("cent", "c")), Unit("cents"), 0, 0)
WRAP = Quantity("wrap", Unit("mm"), Unit("in", 25.4, also=('"',)), 3, 4)
OWN_FIGURE = "own"


class AmountField(LineField):
    """A figure between two bounds of the kept unit, with or without its unit."""

    def __init__(self, *, quantity: Quantity, least: float, most: float, **kwargs: Any) -> None:
        self.quantity, self.least, self.most, self.units = quantity, least, most, str(Units.METRIC)
        attrs = {"inputmode": "decimal", "autocomplete": "off", "class": "short", "maxlength": 30}
        super().__init__(max_length=40, widget=forms.TextInput(attrs=attrs), **kwargs)

    def speak(self, units: str) -> None:
        self.units = units
        unit = self.quantity.unit(units)
        self.label = f"{self.label}, {unit.name}"

    def to_python(self, value: Any) -> Any:
        typed = super().to_python(value)
        if not typed:
            return None
        try:
            got = round(read_measure(typed, self.quantity, self.units).value, 6)
        except NotAMeasure as why:
            raise ValidationError(str(why)) from why
        if not self.least <= got <= self.most:
            unit, places = self.quantity.unit(self.units), self.quantity.places(self.units)
            low, high = (f"{unit.shown(each):.{places}f}" for each in (self.least, self.most))
            raise ValidationError(f"Got “{typed[:20]}”; allowed is {low} to {high} {unit.name}.")
        return got

    def run_validators(self, value: Any) -> None:
        """A figure is not a text: its length was limited before it was read."""


class InUnits(forms.Form):
    """A form that speaks the shop's units."""

    use_required_attribute = False

    def __init__(self, *args: Any, units: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.units = units
        for field in self.fields.values():
            if isinstance(field, AmountField):
                field.speak(units)


class ScaleForm(InUnits):
    """What a scale is and by what it is reckoned."""

    kind = forms.ChoiceField(label="This is the scale", choices=StringScale.Kind.choices)
    name = LineField(label="In words", max_length=60, required=False)
    a4_hz = AmountField(label="Pitch of A4", quantity=PITCH, least=300, most=600, initial="440")
    gauge = forms.ChoiceField(label="Music wire sizes", choices=StringScale.Gauge.choices)
    strength = forms.ChoiceField(
        label="Strength of the wire, for the breaking share",
        choices=[*((name, name) for name in FIGURES), (OWN_FIGURE, "the maker's own figure")],
        help_text="The standard is for spring wire; piano wire sold today is stronger. Old wire is weaker.",
    )
    strength_mpa = AmountField(
        label="The maker's own figure", quantity=STRENGTH, least=100, most=5000, required=False
    )
    version = forms.IntegerField(widget=forms.HiddenInput, required=False, min_value=0, max_value=2**31)

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        is_own, is_wrong = said.get("strength") == OWN_FIGURE, "strength_mpa" in self.errors
        if is_own and not is_wrong and not said.get("strength_mpa"):
            self.add_error("strength_mpa", "Write the figure, or choose one of the tables.")
        return said

    @property
    def facts(self) -> dict[str, Any]:
        said = self.cleaned_data
        is_own = said["strength"] == OWN_FIGURE
        return {
            "kind": said["kind"],
            "name": said["name"],
            "a4_hz": said["a4_hz"],
            "gauge": said["gauge"],
            "figure": FIGURES[0] if is_own else said["strength"],
            "strength_mpa": said["strength_mpa"] if is_own else None,
        }


def facts_as_typed(scale: StringScale, units: str) -> dict[str, Any]:
    """What the form of this scale shows at first."""
    strength = scale.strength_mpa
    shown = f"{STRENGTH.unit(units).shown(strength):.4g}" if strength else ""
    return {
        "kind": scale.kind,
        "name": scale.name,
        "a4_hz": f"{scale.a4_hz:g}",
        "gauge": scale.gauge,
        "strength": OWN_FIGURE if strength else scale.figure,
        "strength_mpa": shown,
        "version": scale.version,
    }


class ProposeForm(InUnits):
    """What new wires are to do. An empty pull leaves those strings as they are."""

    name = LineField(label="In words", max_length=60, required=False)
    plain_pull = AmountField(
        label="Plain strings: keep near", quantity=PULL, least=300, most=1500, required=False
    )
    highest_share = AmountField(
        label="No plain string over this share of its breaking load",
        quantity=SHARE, least=10, most=95, initial="70", help_text="70 % is common practice, no source.",
    )  # fmt: skip
    smoothness = AmountField(
        label="How much an even run counts against the wanted pull",
        quantity=Quantity("weight-of-run", Unit("times"), Unit("times"), 0, 0),
        least=0, most=100, initial="4", help_text="0: only the pull counts; 4: an even run counts more.",
    )  # fmt: skip
    whole_sizes = forms.BooleanField(label="Whole sizes only, no halves", required=False)
    low_pull = AmountField(
        label="Wound strings: pull at the lowest note", quantity=PULL, least=300, most=2500, required=False
    )
    break_pull = AmountField(
        label="and at the highest wound note", quantity=PULL, least=300, most=2500, required=False,
        help_text="Between the two the pull runs evenly. Empty: the same for all.",
    )  # fmt: skip
    highest_core_share = AmountField(
        label="No core over this share of its breaking load",
        quantity=SHARE, least=10, most=95, initial="55", help_text="55 % is common practice, no source.",
    )  # fmt: skip
    wrap_step = AmountField(
        label="Winding wire to be had in steps of", quantity=WRAP, least=0.004, most=0.5, initial="0.01"
    )

    def wishes(self) -> Wishes:
        said = self.cleaned_data
        return Wishes(
            plain_pull_n=said["plain_pull"],
            highest_share=said["highest_share"] / 100,
            smoothness=said["smoothness"],
            whole_sizes=said["whole_sizes"],
            low_pull_n=said["low_pull"],
            break_pull_n=said["break_pull"],
            highest_core_share=said["highest_core_share"] / 100,
            wrap_step_mm=said["wrap_step"],
        )


class RaiseForm(InUnits):
    """From where to where a pitch is brought, pass by pass."""

    from_cents = AmountField(label="The pitch stands at", quantity=CENTS, least=-1200, most=300)
    aims = LineField(
        label="Each pass aims at", max_length=80, initial="-40 0",
        help_text="Cents from pitch, one figure for each pass: -40 10 0.",
    )  # fmt: skip

    def clean_aims(self) -> list[float]:
        words = self.cleaned_data["aims"].replace(";", " ").replace("cents", " ").split()
        if not 1 <= len(words) <= 12:
            raise ValidationError("Write one to twelve figures, one for each pass.")
        return [self._aim(word) for word in words]

    def _aim(self, word: str) -> float:
        try:
            aim = read_measure(word.strip(","), CENTS, self.units).value
        except NotAMeasure as why:
            raise ValidationError(str(why)) from why
        if not -1200 <= aim <= 300:
            raise ValidationError(f"Got “{word[:20]}”; allowed is -1200 to 300 cents.")
        return aim


class ScaleFileForm(forms.Form):
    file = forms.FileField(
        label="The file",
        help_text="CSV as any spreadsheet writes it; at most 5 MB",
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt"}),
        error_messages={"required": "Choose a file first.", "empty": "This file is empty."},
        max_length=None,
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            words = f"This file has {file.size / 1e6:.1f} MB; allowed are {MOST_BYTES / 1e6:.0f} MB."
            raise ValidationError(words, code="too-large")
        return file
