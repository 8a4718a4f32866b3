"""A pot mixed by parts: base, hardener, thinner."""

from __future__ import annotations

from shopflow.compute import film
from shopflow.readings.forms.fields import MeasureField, SumForm
from shopflow.readings.measures import NUMBER, VOLUME
from shopflow.readings.parts import Given, Outcome, Output, Sum

VERSION = "film 1"
PARTS = {"base": "Base", "hardener": "Hardener", "thinner": "Thinner"}


class MixingForm(SumForm):
    total_ml = MeasureField(label="In the pot", quantity=VOLUME, least=1, most=1_000_000)
    base = MeasureField(label="Parts of base", quantity=NUMBER, least=0, most=1000, initial=4)
    hardener = MeasureField(label="Parts of hardener", quantity=NUMBER, least=0, most=1000, required=False)
    thinner = MeasureField(label="Parts of thinner", quantity=NUMBER, least=0, most=1000, required=False)


def answer(given: Given) -> Outcome:
    parts = [given.get(name, 0.0) for name in PARTS]
    volumes = film.mix_ml(given["total_ml"], parts)
    named = zip(PARTS.items(), parts, volumes, strict=True)
    return Outcome(
        outputs=[Output(name, label, volume, VOLUME) for (name, label), part, volume in named if part],
        notes=[
            "By volume. Base, hardener and thinner in the order and by the rule of the product’s sheet; "
            "a share of thinner is usually reckoned on base and hardener together."
        ],
    )


SUM = Sum(
    code="mixing",
    title="Mixing",
    intro="A pot split by parts, such as 4 : 1 : 0.5.",
    source="Plain proportion; common practice, no source.",
    version=VERSION,
    form=MixingForm,
    answer=answer,
)
