"""What hands type: any usual spelling of a number is understood or explained, units of both kinds of shop."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.readings.measures import (
    CURRENT_DENSITY,
    DEGREES_APART,
    FILM,
    QUANTITIES,
    TEMPERATURE,
    WEIGHT,
    NotAMeasure,
    read_measure,
    read_number,
)


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("12", 12), ("12.5", 12.5), ("12,5", 12.5), (",5", 0.5), ("１２，５", 12.5), ("٣٫٥", 3.5), ("१२", 12),
        ("−3", -3), ("-3", -3), ("- 3", -3), ("+3", 3), ("-0", 0), ("3 1/4", 3.25), ("3½", 3.5), ("½", 0.5),
        ("-1 1/2", -1.5), ("1234.5", 1234.5), ("0,250", 0.25),
    ],
)  # fmt: skip
def test_usual_spellings_are_understood(typed, value):
    assert read_number(typed) == value
    assert str(read_number(typed)) != "-0.0"


@pytest.mark.parametrize(
    "typed",
    ["NaN", "Infinity", "-inf", "1e400", "1e3", "twelve", "", " ", "--3", "1.2.3", "1,2,3", "1/0", "12 13",
     "0x10", "9" * 40],
)  # fmt: skip
def test_what_is_no_number_is_explained(typed):
    with pytest.raises(NotAMeasure, match="write digits"):
        read_number(typed)


def test_a_comma_that_may_part_thousands_is_asked_about():
    with pytest.raises(NotAMeasure, match=r"can be read two ways; write 1234 or 1\.234"):
        read_number("1,234")


@pytest.mark.parametrize(
    ("typed", "quantity", "units", "kept", "unit"),
    [
        ("20", TEMPERATURE, "metric", 20, "°C"),
        ("68", TEMPERATURE, "inch", 20, "°F"),
        ("68 °F", TEMPERATURE, "metric", 20, "°F"),
        ("68f", TEMPERATURE, "metric", 20, "°F"),
        ("5", DEGREES_APART, "inch", 5 / 1.8, "°F"),
        ("3", FILM, "inch", 76.2, "mil"),
        ("100 um", FILM, "inch", 100, "µm"),
        ("51", WEIGHT, "inch", 23.13321087, "lb"),
        ("23kg", WEIGHT, "inch", 23, "kg"),
        ("40", CURRENT_DENSITY, "inch", 4.3056, "A/ft²"),
    ],
)
def test_both_shops_units_are_kept_in_one(typed, quantity, units, kept, unit):
    measure = read_measure(typed, quantity, units)
    assert measure.value == pytest.approx(kept, abs=5e-4)
    assert measure.unit == unit


def test_a_unit_of_something_else_is_named():
    with pytest.raises(NotAMeasure, match="“kg” is not a unit of this; write °C or °F"):
        read_measure("20 kg", TEMPERATURE, "metric")


@given(st.sampled_from(sorted(QUANTITIES)), st.floats(-40, 500), st.sampled_from(["metric", "inch"]))
def test_what_is_shown_is_what_was_typed(code, value, units):
    quantity = QUANTITIES[code]
    unit = quantity.unit(units)
    assert unit.shown(unit.kept(value)) == pytest.approx(value, abs=1e-9)


@given(st.text(max_size=30))
def test_no_text_ever_breaks_the_reading_of_a_number(typed):
    with suppress(NotAMeasure):
        assert abs(read_measure(typed, TEMPERATURE, "metric").value) < 1e13
