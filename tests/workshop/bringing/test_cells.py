"""What may stand in a cell: days, numbers, hours, words."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.workshop.services.bringing import values
from shopflow.workshop.services.bringing.columns import COLUMNS, known_as
from shopflow.workshop.services.bringing.days import Order, habit_of, read_day
from shopflow.workshop.services.bringing.values import NotAllowed

DAY, MONTH = Order.DAY_FIRST, Order.MONTH_FIRST
BOUNDS = {"least": date(1950, 1, 1), "most": date(2099, 12, 31)}


@pytest.mark.parametrize(
    "typed",
    [
        "2025-12-31",
        "2025/12/31",
        "2025-12-31 00:00:00",
        "20251231",
        "31.12.2025",
        "31. 12. 2025",
        "31 Dec 2025",
        "31-Dec-2025",
        "31st December 2025",
        "December 31, 2025",
        "31/12/2025",
        "31-12-2025",
        "２０２５-１２-３１",
    ],
)
def test_days_are_read_as_people_write_them(typed):
    assert read_day(typed, order=DAY, **BOUNDS) == date(2025, 12, 31)


def test_a_day_with_strokes_is_read_in_the_order_of_its_column():
    assert read_day("03/04/2025", order=DAY, **BOUNDS) == date(2025, 4, 3)
    assert read_day("03/04/2025", order=MONTH, **BOUNDS) == date(2025, 3, 4)
    assert read_day("03/04/2025", order=None, **BOUNDS) is None
    assert read_day("04/04/2025", order=None, **BOUNDS) == date(2025, 4, 4)


@pytest.mark.parametrize(
    ("cells", "order", "asked"),
    [
        (["03/04/2025", "25/12/2025"], DAY, False),
        (["03/04/2025", "12/25/2025"], MONTH, False),
        (["03/04/2025", "05/06/2025"], None, True),
        (["04/04/2025", "2025-01-31", "31.1.2025"], None, False),
        (["25/12/2025", "26/12/2025", "12/25/2025"], DAY, False),
        ([], None, False),
    ],
)
def test_a_column_shows_its_own_order_or_has_to_be_asked(cells, order, asked):
    habit = habit_of(cells)
    assert (habit.order, habit.must_be_asked) == (order, asked)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("30/02/2025", "no such day"),
        ("2025-02-30", "no such day"),
        ("31 June 2025", "no such day"),
        ("12/25/2025", "with the day first"),
        ("45657", "spreadsheet's own count of days"),
        ("45657.5", "spreadsheet's own count of days"),
        ("31/12/25", "four digits"),
        ("0001-01-01", "1950-01-01 to 2099-12-31"),
        ("9999-12-31", "1950-01-01 to 2099-12-31"),
        ("0000-01-01", "no such day"),
        ("2025-12-31 14:30", "a day such as"),
        ("next week", "a day such as"),
        ("31 Foo 2025", "a day such as"),
        ("5", "a day such as"),
    ],
)
def test_what_is_no_day_is_refused_with_what_is_allowed(typed, words):
    with pytest.raises(NotAllowed, match=words):
        read_day(typed, order=DAY, **BOUNDS)


@given(st.dates(min_value=date(1950, 1, 1), max_value=date(2099, 12, 31)))
def test_every_day_is_read_back_in_every_way_of_writing_it(day):
    ways = [
        ("%Y-%m-%d", None),
        ("%d.%m.%Y", None),
        ("%d/%m/%Y", DAY),
        ("%m/%d/%Y", MONTH),
        ("%d %b %Y", None),
    ]
    for way, order in ways:
        assert read_day(day.strftime(way), order=order, **BOUNDS) == day


@given(st.text(max_size=20), st.sampled_from([None, DAY, MONTH]))
def test_any_text_is_a_day_or_refused(typed, order):
    try:
        day = read_day(typed, order=order, **BOUNDS)
    except NotAllowed:
        return
    assert day is None or BOUNDS["least"] <= day <= BOUNDS["most"]


@pytest.mark.parametrize(
    ("typed", "hours"),
    [("4.5", "4.5"), ("4,5", "4.5"), ("0", "0"), ("1000", "1000"), ("４．５", "4.5"), ("7,00", "7")],
)
def test_hours_with_point_or_comma(typed, hours):
    assert values.read("hours_likely", typed) == Decimal(hours)


@pytest.mark.parametrize(
    "typed",
    ["-3", "1e400", "NaN", "Infinity", "1.234,5", "1,234", "1000.5", "4.555", "-0", "two", "4h", ",5"],
)
def test_hours_that_cannot_be(typed):
    with pytest.raises(NotAllowed, match="0 to 1000"):
        values.read("hours_likely", typed)


@pytest.mark.parametrize(
    ("column", "typed", "value"),
    [
        ("year", "1904", 1904),
        ("year", "1904.0", 1904),
        ("year", "１９０４", 1904),
        ("size_cm", "152", 152),
        ("kind", "Upright", "upright"),
        ("kind", "GRAND PIANO", "grand"),
        ("kind", "g", "grand"),
        ("number", "２１４", "214"),
        ("maker", "Ostrander\u00a0&\n Vale", "Ostrander & Vale"),
        ("note", "one\ntwo", "one\ntwo"),
        ("serial", '=HYPERLINK("x")', '=HYPERLINK("x")'),
    ],
)
def test_cells_are_read_for_what_they_mean(column, typed, value):
    assert values.read(column, typed) == value


@pytest.mark.parametrize(
    ("column", "typed", "words"),
    [
        ("year", "1904 (approx.)", "1700 to 2100"),
        ("year", "1699", "1700 to 2100"),
        ("year", "9" * 5000, "1700 to 2100"),
        ("size_cm", "5 ft", "80 to 320"),
        ("kind", "pianola", "upright or grand"),
        ("kind", "up right?", "upright or grand"),
        ("number", "21 4", "letters, digits and hyphens"),
        ("number", "-214", "letters, digits and hyphens"),
        ("number", "1234567890123", "at most 12"),
        ("maker", "x" * 61, "at most 60 letters; this has 61"),
        ("customer_email", "not known", "e-mail"),
    ],
)
def test_cells_that_cannot_be_say_what_is_allowed(column, typed, words):
    with pytest.raises(NotAllowed, match=words):
        values.read(column, typed)


@pytest.mark.parametrize(
    ("head", "name"),
    [
        ("Ser. No.", "serial"),
        ("MFR", "maker"),
        (" brand ", "maker"),
        ("Size_CM", "size_cm"),
        ("size (cm)", "size_cm"),
        ("size in cm", "size_cm"),
        ("Arrived On", "arrived_on"),
        ("E-Mail", "customer_email"),
        ("colour", "finish"),
        ("insured value", None),
    ],
)
def test_heads_are_known_whatever_their_case_blanks_and_points(head, name):
    assert known_as(head) == name


def test_no_word_means_two_columns():
    words = [word for column in COLUMNS for word in {known_as(w) for w in (column.name, *column.also)}]
    assert sorted(words) == sorted(column.name for column in COLUMNS)
