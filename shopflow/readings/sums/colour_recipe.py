"""The recipe of a colour, kept so that it can be mixed again."""

from __future__ import annotations

from shopflow.common.forms import LineField, NoteField
from shopflow.readings.forms.fields import SumForm
from shopflow.readings.parts import Given, Outcome, Sum


class ColourRecipeForm(SumForm):
    colour = LineField(label="Colour", max_length=80)
    recipe = NoteField(label="Recipe", max_length=600, rows=4, help_text="what, how much, in which order")
    sample = LineField(label="Sample seen and signed by", max_length=80, required=False)


def answer(given: Given) -> Outcome:
    return Outcome([])


SUM = Sum(
    code="colour-recipe",
    title="Colour recipe",
    intro="What went into the colour of this case, for the next panel and the next hand.",
    source="A note, not a sum.",
    version="note 1",
    form=ColourRecipeForm,
    answer=answer,
    button="Keep the recipe",
)
