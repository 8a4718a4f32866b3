"""Each sum of a sheet shows the figures that were published for it (the formulas: tests/compute)."""

from __future__ import annotations

import pytest

from shopflow.common.charts import Chart
from shopflow.readings.parts import Outcome, written
from shopflow.readings.sheets import SHEETS, SUMS
from shopflow.readings.sums import film_build, lift, may_coat, mixing, plating_area, plating_time, quantity
from tests import cast

from .sheet_cast import send, sheet_url, task_with_sheet

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def shop():
    return cast.shop()


def worked_out(of, units="metric", **typed):
    """What a sum says to these typed values, as the sheet takes them."""
    form = of.form(typed, units=units)
    assert form.is_valid(), form.errors
    return of.answer(form.given), form


def value(outcome: Outcome, name: str):
    return next(output.value for output in outcome.outputs if output.name == name)


def shown(outcome: Outcome, name: str, units: str = "metric") -> str:
    return written(next(output for output in outcome.outputs if output.name == name).as_data(), units)


AIR = {"margin_c": "3", "highest_rh": "85", "air": "typed"}


@pytest.mark.parametrize(
    ("air", "rh", "dew"),
    [
        ("50", "70", "43.0 °C"),
        ("30", "55", "20.0 °C"),
    ],  # weather station manual quoting WMO Guide no. 8, annex 4.B
)
def test_dew_point_as_published(air, rh, dew):
    outcome, _ = worked_out(may_coat.SUM, temp_c=air, rh=rh, surface_c="60", **AIR)
    assert shown(outcome, "dew_point_c") == dew


def test_the_least_the_work_must_have():
    """Air 20 °C, 65 %: at least 16.22 °C (coating article citing ISO 8502-4 and ISO 12944-7)."""
    outcome, _ = worked_out(may_coat.SUM, temp_c="20", rh="65", surface_c="16,3", **AIR)
    assert (shown(outcome, "lowest_surface_c"), outcome.tone) == ("16.2 °C", "good")
    cold, _ = worked_out(may_coat.SUM, temp_c="20", rh="65", surface_c="16,1", **AIR)
    assert (cold.tone, "too near its dew point" in cold.verdict) == ("wait", True)
    damp, _ = worked_out(may_coat.SUM, temp_c="20", rh="85", surface_c="20", **AIR)
    assert "too damp" in damp.verdict


def test_an_inch_shops_rule_of_5_f():
    """A painting chart: 70 °F and 65 % need 62.7 °F by an unrounded dew point."""
    fahrenheit = AIR | {"margin_c": "5"}
    outcome, _ = worked_out(may_coat.SUM, "inch", temp_c="70", rh="65", surface_c="68", **fahrenheit)
    assert shown(outcome, "lowest_surface_c", "inch") == "62.7 °F"


def test_the_usual_margin_is_offered_in_the_shops_own_unit():
    assert 'value="3"' in str(may_coat.SUM.form(units="metric")["margin_c"])
    assert 'value="5.4"' in str(may_coat.SUM.form(units="inch")["margin_c"])


def test_film_and_coats_as_published():
    """A gauge maker's formula page: 200 µm at 35 % dries to 70, thinned by 10 % to 63.6."""
    given = {"dry_um": "100", "wet_um": "200", "volume_solids_percent": "35"}
    outcome, _ = worked_out(film_build.SUM, **given)
    assert shown(outcome, "each_um") == "70 µm"
    thinned, _ = worked_out(film_build.SUM, **given, thinner_percent="10")
    assert value(thinned, "each_um") == pytest.approx(63.64, abs=0.005)
    five, _ = worked_out(film_build.SUM, dry_um="100", wet_um="100", volume_solids_percent="20", laid="5")
    assert (value(five, "coats"), five.verdict) == (5, "The film is built.")
    more, _ = worked_out(
        film_build.SUM, dry_um="100", wet_um="100", volume_solids_percent="20", rubbed_um="20", laid="4"
    )
    assert (value(more, "coats"), more.verdict.partition(".")[0]) == (6, "2 more coats to go")


def test_coverage_as_a_sheet_prints_it():
    """A coating maker's sheet: 65 % at 125 µm goes 5.2 m²/L; a bulletin: 65 % at 5 mil goes 209 ft²/gal."""
    outcome, _ = worked_out(
        quantity.SUM_UPRIGHT,
        sides="1000 x 520 x 10",
        dry_um="125",
        volume_solids_percent="65",
        lost_percent="50",
    )
    assert shown(outcome, "coverage") == "5.2 m²/L"
    assert (shown(outcome, "area_m2"), shown(outcome, "on_ml"), shown(outcome, "take_ml")) == (
        "5.20 m²",
        "1,000 mL",
        "2,000 mL",
    )
    inch, _ = worked_out(
        quantity.SUM_GRAND,
        "inch",
        rim="100 x 14,4 x 1",
        dry_um="5",
        volume_solids_percent="65",
        lost_percent="0",
    )
    assert shown(inch, "coverage", "inch") == "209 ft²/gal"
    assert shown(inch, "area_m2", "inch") == "10.0 ft²"


def test_mixing_by_parts():
    """Plain proportion, by hand: a litre at 4 : 1 : 0.5."""
    outcome, _ = worked_out(mixing.SUM, total_ml="1000", base="4", hardener="1", thinner="0,5")
    assert [round(output.value, 1) for output in outcome.outputs] == [727.3, 181.8, 90.9]


def test_plating_as_worked_by_hand_and_published():
    """Plate 130 × 160 × 3.2 mm, 25 A, 1 h, 95 % nickel: 67.3 µm (a public answer divides by 0.95: 74.4)."""
    area, _ = worked_out(
        plating_area.SUM, parts="faces: 130 x 160 x 2\nlong edges: 160 x 3.2 x 2\nshort: 130x3.2x2"
    )
    assert value(area, "area_cm2") == pytest.approx(434.56)
    outcome, _ = worked_out(
        plating_time.SUM, deposit="nickel", area_cm2="434,56", current_a="25", efficiency_percent="95",
        thickness_um="67.3", minutes="60",
    )  # fmt: skip
    assert shown(outcome, "grown_um") == "67.3 µm"
    assert shown(outcome, "needed_min") == "60 min"


def test_thickness_by_faradays_law():
    """4 A/dm² for 30 min at 95 %: 23.38 µm of nickel, by hand."""
    outcome, _ = worked_out(
        plating_time.SUM, deposit="nickel", area_cm2="500", current_a="20", efficiency_percent="95",
        thickness_um="23.38", minutes="15",
    )  # fmt: skip
    assert value(outcome, "density_a_dm2") == pytest.approx(4)
    assert shown(outcome, "needed_min") == "30 min"
    assert outcome.verdict == "15 min more."


def test_niosh_example_4():
    """Manual 94-110: H 10, V 22, D 37 in, 3 lifts a minute, fair grip: 34.9 lb at the start from rounded
    multipliers, 34.8 unrounded; at the end (H 20 in from memory) 15.2."""
    outcome, _ = worked_out(
        lift.SUM, "inch", load_kg="20", horizontal_mm="10", vertical_mm="22", end_horizontal_mm="20",
        end_vertical_mm="59", lifts_per_min="3", hours="1", grip="fair",
    )  # fmt: skip
    assert shown(outcome, "start_kg", "inch") == "34.8 lb"
    assert value(outcome, "end_kg") / 0.45359237 == pytest.approx(15.25, abs=0.005)
    assert shown(outcome, "index") == "1.31"
    assert (shown(outcome, "people"), outcome.tone) == ("2", "wait")


def test_the_ideal_lift_and_the_plate():
    """23 kg is the load constant of the manual's metric form; a plate of 150 kg is for no number of hands."""
    ideal = {
        "horizontal_mm": "25",
        "vertical_mm": "75",
        "end_vertical_mm": "100",
        "hours": "1",
        "grip": "good",
    }
    outcome, _ = worked_out(lift.SUM, load_kg="20", **ideal)
    assert (shown(outcome, "start_kg"), outcome.tone) == ("23.0 kg", "good")
    plate, _ = worked_out(lift.SUM, load_kg="150", **ideal)
    assert (plate.tone, plate.verdict) == ("stop", lift.NO_HANDS)
    nothing, _ = worked_out(lift.SUM, load_kg="5", **(ideal | {"horizontal_mm": "90"}))
    assert nothing.verdict == "It should not be lifted by hand this way at all."


def test_parts_that_are_no_sizes_are_named_by_their_line():
    form = plating_area.SUM.form({"parts": "pedal: 230 x 60 x 2\nhinge: long"}, units="metric")
    assert not form.is_valid()
    assert "Line 2: “long” is not a size" in str(form.errors["parts"])


SENT = {
    "may-coat": {"temp_c": "20", "rh": "65", "surface_c": "18", **AIR},
    "film-build": {"dry_um": "100", "wet_um": "100", "volume_solids_percent": "20", "laid": "2"},
    "quantity-upright": {"sides": "120 x 60 x 4", "dry_um": "120", "volume_solids_percent": "25",
                         "lost_percent": "50"},
    "mixing": {"total_ml": "500", "base": "4", "hardener": "1"},
    "colour-recipe": {"colour": "walnut, red", "recipe": "12 parts walnut stain\n1 part mahogany"},
    "plating-area": {"parts": "pedal: 230 x 60 x 2"},
    "plating-time": {"deposit": "nickel", "area_cm2": "500", "current_a": "20", "efficiency_percent": "95",
                     "thickness_um": "20"},
    "lift": {"load_kg": "150", "horizontal_mm": "25", "vertical_mm": "75", "end_vertical_mm": "100",
             "hours": "1", "grip": "fair"},
}  # fmt: skip
DRAWN = {"may-coat", "film-build", "plating-time", "lift"}


@pytest.mark.parametrize("units", ["metric", "inch"])
@pytest.mark.parametrize("code", sorted(SENT))
def test_each_sum_is_kept_and_shown_again_with_its_picture_in_both_units(client, code, units):
    cast.shop(units=units)
    maud = cast.manager()
    kind = next(kind for kind, sheet in SHEETS.items() if code in sheet.sums)
    task = task_with_sheet(kind, by=maud)
    client.force_login(maud)
    answer = send(client, sheet_url(task, f"sum/{code}/", kind), **SENT[code])
    assert answer.status_code == 303, answer.content.decode()[:3000]
    for url in (sheet_url(task, kind=kind), f"/instruments/{task.instrument.number}/readings/"):
        page = client.get(url)
        assert page.status_code == 200
        assert SUMS[code].title in page.content.decode()
        assert ('<figure class="chart">' in page.content.decode()) == (code in DRAWN)
    again = client.get(sheet_url(task, kind=kind)).context["opened"]
    form = next(part.form for part in again.parts if part.part.code == code)
    for name, typed in SENT[code].items():
        assert str(form[name].value()).split(" ")[0] == typed.split(" ")[0]


def test_only_the_sizes_of_its_own_kind_are_asked_for(client):
    maud = cast.manager()
    client.force_login(maud)
    upright = task_with_sheet(by=maud)
    grand = cast.task(upright.operation, on=cast.instrument(by=maud, kind="grand"), by=maud)
    for task, asked, not_asked in (
        (upright, "Lower door", "Rim, outside"),
        (grand, "Rim, outside", "Lower door"),
    ):
        page = client.get(sheet_url(task)).content.decode()
        assert asked in page
        assert not_asked not in page


def test_a_film_of_a_thousand_coats_is_not_drawn_and_does_not_break_the_sheet(client):
    maud = cast.manager()
    task = task_with_sheet(by=maud)
    client.force_login(maud)
    thin = {"dry_um": "10000", "wet_um": "1", "volume_solids_percent": "0.1"}
    assert send(client, sheet_url(task, "sum/film-build/"), **thin).status_code == 303
    assert '<figure class="chart">' not in client.get(sheet_url(task)).content.decode()


@pytest.mark.parametrize("code", sorted(SUMS))
def test_every_sum_names_its_version_its_source_and_the_ranges_of_its_fields(code):
    of = SUMS[code]
    assert of.version
    assert of.source
    for bound in of.form(units="metric").shown:
        if hasattr(bound.field, "range_words") and "x" not in str(bound.initial or ""):
            assert bound.help_text or bound.field.__class__.__name__ == "SizeField"


def test_pictures_are_charts_with_their_figures(client):
    outcome, form = worked_out(lift.SUM, **SENT["lift"])
    got = {output.name: output.value for output in outcome.outputs}
    chart = lift.SUM.picture(form.given, got, "metric")
    assert isinstance(chart, Chart)
    assert "limit" in chart.heads
    assert chart.svg().count("<svg") == 1
