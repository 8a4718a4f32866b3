"""How much finish this case takes: its panels by size, the film wanted, and what goes past the work."""

from __future__ import annotations

from collections.abc import Mapping

from django import forms

from shopflow.catalogue.models import Kind, Units
from shopflow.compute import film
from shopflow.readings.forms.fields import MeasureField, SumForm
from shopflow.readings.forms.sizes import SizeField
from shopflow.readings.measures import AREA, COVERAGE, FILM, LENGTH, PERCENT, VOLUME
from shopflow.readings.parts import Given, Outcome, Output, Sum
from shopflow.workshop.models import Task

VERSION = "quantity 1"
# Usual sizes in mm, faces to be coated: common practice, no source. Measure the case in front of you.
UPRIGHT = {
    "sides": ("Sides", "1250 x 600 x 4"),
    "lid": ("Lid", "1500 x 350 x 2"),
    "fall": ("Fall", "1400 x 250 x 2"),
    "upper_panel": ("Upper door", "1400 x 450 x 2"),
    "lower_panel": ("Lower door", "1400 x 550 x 2"),
    "keybed": ("Key bed, slip and blocks", "1450 x 350 x 2"),
    "legs": ("Legs and toes", "600 x 400 x 2"),
    "others": ("Others", ""),
}
GRAND = {
    "rim": ("Rim, outside", "5000 x 330 x 1"),
    "rim_inside": ("Rim, inside", "5000 x 150 x 1"),
    "lid": ("Lid, front and main", "1800 x 1450 x 2"),
    "fall": ("Fall", "1400 x 250 x 2"),
    "desk": ("Music desk", "1100 x 350 x 2"),
    "keybed": ("Key bed, slip and blocks", "1450 x 400 x 2"),
    "legs": ("Legs", "650 x 550 x 3"),
    "lyre": ("Lyre", "600 x 400 x 2"),
    "others": ("Others", ""),
}
SizesOf = Mapping[str, tuple[str, str]]


def _form(name: str, sizes: SizesOf) -> type[SumForm]:
    fields: dict[str, forms.Field] = {
        code: SizeField(label=label, required=False) for code, (label, _) in sizes.items()
    }
    fields |= {
        "dry_um": MeasureField(label="Dry film wanted", quantity=FILM, least=1, most=10_000),
        "volume_solids_percent": MeasureField(
            label="Solids by volume", quantity=PERCENT, least=0.1, most=100
        ),
        "lost_percent": MeasureField(
            label="Goes past the work",
            quantity=PERCENT,
            least=0,
            most=95,
            initial=50,
            help_text="overspray, pot and hose; 50 is common practice, no source;",
        ),
    }
    return type(name, (SumForm,), fields)


UprightForm, GrandForm = _form("UprightForm", UPRIGHT), _form("GrandForm", GRAND)


def _usual(sizes: SizesOf) -> dict[str, dict[str, str]]:
    metric = {code: size for code, (_, size) in sizes.items()}
    return {Units.METRIC: metric, Units.INCH: {code: _in_inches(size) for code, size in metric.items()}}


def _in_inches(size: str) -> str:
    """
    >>> _in_inches("1250 x 600 x 4")
    '49 x 24 x 4'
    """
    if not size:
        return ""
    length, width, faces = size.split(" x ")
    return " x ".join([*(f"{LENGTH.inch.shown(float(each)):.0f}" for each in (length, width)), faces])


USUAL = {Kind.UPRIGHT: _usual(UPRIGHT), Kind.GRAND: _usual(GRAND)}


def _answer(given: Given, sizes: SizesOf) -> Outcome:
    areas = {label: given[code] for code, (label, _) in sizes.items() if given.get(code)}
    area = sum(areas.values())
    coverage = film.coverage_m2_per_l(given["dry_um"], given["volume_solids_percent"])
    on_the_work = area / coverage * 1000
    share = 1 - given["lost_percent"] / 100
    return Outcome(
        outputs=[
            Output("area_m2", "To coat", area, AREA),
            Output("coverage", "A litre goes, with nothing lost", coverage, COVERAGE),
            Output("on_ml", "Stays on the work", on_the_work, VOLUME),
            Output("take_ml", "To take, unthinned", on_the_work / share, VOLUME),
        ],
        verdict="" if area else "No size is given, so there is nothing to coat.",
        notes=["The usual sizes are common practice, no source: measure the case in front of you."],
        heads=["Part", "m²"],
        rows=[[label, f"{each:.2f}"] for label, each in areas.items()],
    )


def _sum(code: str, kind: Kind, form: type[SumForm], sizes: SizesOf) -> Sum:
    def usual(task: Task, units: str) -> dict[str, str]:
        return USUAL[kind][units]

    return Sum(
        code=code,
        title="Quantity for this case",
        intro="Length × width × faces of each part; a part that is not coated stays empty.",
        source="Litres per area = dry film ÷ solids (one micrometre on one square metre is one millilitre): "
        "a coating maker’s sheet “Theoretical spreading rate”.",
        version=VERSION,
        form=form,
        answer=lambda given: _answer(given, sizes),
        usual=usual,
        only_for=kind,
    )


SUM_UPRIGHT = _sum("quantity-upright", Kind.UPRIGHT, UprightForm, UPRIGHT)
SUM_GRAND = _sum("quantity-grand", Kind.GRAND, GrandForm, GRAND)
