"""ISO weeks agree with the published boundary dates and tile the years without a gap."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.compute import calendar
from shopflow.compute.calendar import IsoWeek, weeks_in_year
from shopflow.compute.calendar.wall import instant
from shopflow.compute.errors import ComputeError
from tests.compute.tables import rows

BERLIN, NEW_YORK = ZoneInfo("Europe/Berlin"), ZoneInfo("America/New_York")
ZONES = [BERLIN, NEW_YORK, ZoneInfo("Australia/Lord_Howe"), ZoneInfo("America/St_Johns"), UTC]
weeks = st.dates(date(1900, 1, 1), date(2200, 12, 31)).map(IsoWeek.of)


def test_every_published_boundary_date_falls_in_its_week():
    table = rows("iso-week-year-boundaries.csv")
    for row in table:
        week, day = IsoWeek.of(date.fromisoformat(row["date"])), int(row["iso_day"])
        assert f"{week}-{day}" == row["iso_string"]
        assert (week.year, week.week) == (int(row["iso_year"]), int(row["iso_week"]))
        assert week.days()[day - 1].isoformat() == row["date"]
    assert len(table) == 368


# An encyclopaedia page prints 2023-W01-6 for this day; by the rule of ISO 8601 it is 2022-W52-6.
def test_new_years_eve_of_2022_stays_in_the_old_year():
    assert str(IsoWeek.of(date(2022, 12, 31))) == "2022-W52"


# Years with 53 weeks 1990 to 2050, and 71 of them in 400 years: the rule of ISO 8601, computed.
def test_the_long_years_are_the_known_ones():
    long = [year for year in range(1990, 2051) if weeks_in_year(year) == 53]
    assert long == [1992, 1998, 2004, 2009, 2015, 2020, 2026, 2032, 2037, 2043, 2048]
    assert sum(weeks_in_year(year) == 53 for year in range(2000, 2400)) == 71


@given(weeks)
def test_a_week_can_be_written_and_read_again(week):
    assert IsoWeek.parse(str(week)) == week


@given(weeks)
def test_next_and_previous_undo_each_other_and_meet(week):
    assert week.next().previous() == week
    assert week.next().monday() - week.sunday() == timedelta(days=1)
    assert week.previous() < week < week.next()


@given(weeks, st.integers(0, 120))
def test_a_range_of_weeks_counts_each_once(first, further):
    span = list(first.until(first.later(further)))
    assert len(span) == len(set(span)) == further + 1
    assert span == sorted(span)


def test_a_range_that_ends_before_it_begins_is_empty():
    assert list(IsoWeek(2026, 10).until(IsoWeek(2026, 9))) == []


@pytest.mark.parametrize(
    ("week", "zone", "hours"),
    [
        (IsoWeek(2026, 13), BERLIN, 167),  # clocks forward on Sunday 2026-03-29
        (IsoWeek(2026, 43), BERLIN, 169),  # clocks back on Sunday 2026-10-25
        (IsoWeek(2026, 10), NEW_YORK, 167),  # clocks forward on Sunday 2026-03-08
        (IsoWeek(2026, 44), NEW_YORK, 169),  # clocks back on Sunday 2026-11-01
        (IsoWeek(2026, 20), BERLIN, 168),
        (IsoWeek(2026, 40), ZoneInfo("Australia/Lord_Howe"), 167.5),  # half an hour forward on 2026-10-04
    ],
)
def test_the_week_of_a_clock_change_has_its_real_length(week, zone, hours):
    start, end = week.bounds_utc(zone)
    assert (end - start) / timedelta(hours=1) == hours


@given(weeks, st.sampled_from(ZONES))
def test_weeks_tile_time_in_every_zone(week, zone):
    start, end = week.bounds_utc(zone)
    assert week.next().bounds_utc(zone)[0] == end
    assert start.astimezone(zone).date() == week.monday()
    assert IsoWeek.at(start, zone) == week == IsoWeek.at(end - timedelta(microseconds=1), zone)
    assert IsoWeek.at(end, zone) == week.next()


# Chile put its clocks on at midnight, so 00:00 on Sunday 2022-09-11 was skipped (time zone database).
def test_a_skipped_midnight_begins_the_day_at_the_jump():
    santiago = ZoneInfo("America/Santiago")
    begins = instant(date(2022, 9, 11), timedelta(0), santiago)
    assert begins == datetime(2022, 9, 11, 4, tzinfo=UTC)
    assert begins.astimezone(santiago).isoformat() == "2022-09-11T01:00:00-03:00"


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("week", lambda: IsoWeek(2027, 53)),
        ("week", lambda: IsoWeek(2026, 0)),
        ("week", lambda: IsoWeek(2026, 2.0)),
        ("week", lambda: IsoWeek(2026, True)),
        ("year", lambda: IsoWeek(1582, 1)),
        ("year", lambda: weeks_in_year("2026")),
        ("day", lambda: IsoWeek.of(datetime(2026, 1, 1, tzinfo=UTC))),
        ("day", lambda: IsoWeek.of("2026-01-01")),
        ("moment", lambda: IsoWeek.at(datetime(2026, 1, 1), BERLIN)),  # noqa: DTZ001 - the mistake under test
        ("zone", lambda: IsoWeek(2026, 1).bounds_utc("Europe/Berlin")),
        ("week", lambda: IsoWeek.parse("2026-48")),
        ("week", lambda: IsoWeek.parse("2027-W53")),
        ("week", lambda: IsoWeek.parse("２０２６-W01")),
        ("week", lambda: IsoWeek.parse(None)),
        ("last", lambda: IsoWeek(2026, 1).until("2026-W02")),
        ("weeks", lambda: IsoWeek(2026, 1).later(10**9)),
        ("weeks", lambda: IsoWeek(2026, 1).later(1.5)),
        ("closed", lambda: calendar.working_weeks(2026, closed="2026-12-25")),
        ("closed", lambda: calendar.working_weeks(2026, closed=["2026-12-25"])),
        ("weekdays", lambda: calendar.working_weeks(2026, weekdays=[])),
        ("weekdays", lambda: calendar.working_weeks(2026, weekdays=[7])),
        ("target", lambda: calendar.target_to_date(-1, 2026, on=date(2026, 5, 1))),
        ("target", lambda: calendar.target_to_date(float("nan"), 2026, on=date(2026, 5, 1))),
        ("on", lambda: calendar.target_to_date(70, 2026, on=datetime(2026, 5, 1, tzinfo=UTC))),
    ],
)
def test_nonsense_is_refused_by_name(field, wrong):
    with pytest.raises(ComputeError) as caught:
        wrong()
    assert caught.value.field == field
