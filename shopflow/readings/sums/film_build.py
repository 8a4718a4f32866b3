"""Dry from wet, and how many coats a film takes."""

from __future__ import annotations

from shopflow.common.forms import WholeNumberField
from shopflow.compute import film
from shopflow.readings.forms.fields import MeasureField, SumForm
from shopflow.readings.measures import COUNT, FILM, PERCENT
from shopflow.readings.parts import Given, Outcome, Output, Sum
from shopflow.readings.pictures import film_bar

VERSION = "film 1"
MOST_COATS = 200


class FilmBuildForm(SumForm):
    dry_um = MeasureField(label="Dry film wanted", quantity=FILM, least=1, most=10_000)
    wet_um = MeasureField(label="Wet film of a coat", quantity=FILM, least=1, most=10_000)
    volume_solids_percent = MeasureField(
        label="Solids by volume",
        quantity=PERCENT,
        least=0.1,
        most=100,
        help_text="from the product’s sheet:",
    )
    thinner_percent = MeasureField(
        label="Thinner added", quantity=PERCENT, least=0, most=1000, required=False, help_text="by volume:"
    )
    rubbed_um = MeasureField(
        label="Sanding and rubbing out take off", quantity=FILM, least=0, most=5000, required=False
    )
    laid = WholeNumberField(label="Coats laid so far", least=0, most=MOST_COATS, required=False)


def answer(given: Given) -> Outcome:
    product = (given["volume_solids_percent"], given.get("thinner_percent", 0.0))
    wet, taken_off, laid = given["wet_um"], given.get("rubbed_um", 0.0), given.get("laid", 0)
    target = given["dry_um"] + taken_off
    each = film.dry_from_wet(wet, *product)
    coats = film.coats_for(target, wet, *product)
    so_far = laid * each
    outputs = [
        Output("each_um", "Dry film of a coat", each, FILM),
        Output("coats", "Coats in all", float(coats), COUNT),
        Output("target_um", "To build, with what is rubbed off", target, FILM),
        Output("so_far_um", "Built so far", so_far, FILM),
    ]
    return Outcome(outputs, _verdict(coats, laid), "good" if laid >= coats else "")


def _verdict(coats: int, laid: int) -> str:
    left = coats - laid
    if left <= 0:
        return "The film is built."
    count = left if laid else coats
    more = f"{count} {'more ' if laid else ''}coat{'' if count == 1 else 's'}"
    return f"{more} to go. How many the product bears, and when, its sheet says."


SUM = Sum(
    code="film-build",
    title="Film and coats",
    intro="What dries from a wet film, and how many coats build the film that is wanted.",
    source="Dry = wet × solids ÷ (1 + thinner): formula page of a thickness-gauge maker.",
    version=VERSION,
    form=FilmBuildForm,
    answer=answer,
    picture=film_bar,
)
