"""Working time agrees with a clock that ticks minute by minute, over shifts, holidays and clock changes."""

import math
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.compute import calendar
from shopflow.compute.calendar import IsoWeek, WorkCalendar
from shopflow.compute.errors import ComputeError

BERLIN, NEW_YORK = ZoneInfo("Europe/Berlin"), ZoneInfo("America/New_York")
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)
TWO_SHIFTS = [("08:00", "12:00"), ("13:00", "17:30")]
DAY_SHOP = WorkCalendar(dict.fromkeys(range(5), TWO_SHIFTS), closed=[date(2026, 12, 25), date(2027, 1, 1)])
NIGHT_SHOP = WorkCalendar([[("22:00", "06:00")]] * 7)
ODD_SHOP = WorkCalendar(
    {0: [(6, 10), (11, 15)], 2: [(20, 4)], 4: [(7.5, 12)], 5: [("22:00", "24:00")], 6: [("00:00", "05:00")]},
    closed=[date(2026, 3, 26), date(2026, 10, 26), date(2026, 3, 8)],
)
SHOPS, ZONES = [DAY_SHOP, NIGHT_SHOP, ODD_SHOP], [BERLIN, NEW_YORK, UTC]
# Around both clock changes of 2026 in both zones, and the year's end.
MOMENTS = st.sampled_from(
    [datetime(2026, month, day, tzinfo=UTC) for month, day in ((3, 4), (3, 25), (10, 22), (10, 29), (12, 22))]
).flatmap(lambda day: st.integers(0, 7 * 24 * 60).map(lambda minutes: day + minutes * MINUTE))
HOURS = st.integers(-200 * 3600, 200 * 3600).map(lambda seconds: seconds / 3600)


def berlin(month, day, hour, minute=0, **more):
    return datetime(2026, month, day, hour, minute, tzinfo=BERLIN, **more)


@pytest.mark.parametrize(
    ("start", "hours", "end"),
    [
        (berlin(11, 23, 8), 4, berlin(11, 23, 12)),  # up to the break, not to its end
        (berlin(11, 23, 8), 4.5, berlin(11, 23, 13, 30)),  # over the break
        (berlin(11, 23, 8), 8.5, berlin(11, 23, 17, 30)),  # a whole day
        (berlin(11, 27, 17), 1, berlin(11, 30, 8, 30)),  # over the weekend
        (berlin(11, 28, 12), 2, berlin(11, 30, 10)),  # begun in the weekend
        (berlin(12, 24, 16), 3, berlin(12, 28, 9, 30)),  # over Christmas Day and the weekend
        (berlin(11, 30, 9), -2, berlin(11, 27, 16, 30)),  # back over the weekend
        (berlin(11, 30, 8), -8.5, berlin(11, 27, 8)),  # back a whole day
        (berlin(11, 28, 12), 0, berlin(11, 28, 12)),  # nothing to do ends at once
    ],
)
def test_days_worked_out_by_hand(start, hours, end):
    assert DAY_SHOP.add(start, hours) == end
    assert DAY_SHOP.between(start, end) == hours


def test_clocks_forward_take_an_hour_from_the_night():
    begin, end = berlin(3, 28, 22), berlin(3, 29, 6)
    assert NIGHT_SHOP.between(begin, end) == 7
    assert NIGHT_SHOP.add(begin, 7.5) == berlin(3, 29, 22, 30)


def test_clocks_back_give_the_night_an_hour_more():
    begin, end = berlin(10, 24, 22), berlin(10, 25, 6)
    assert NIGHT_SHOP.between(begin, end) == 9
    assert NIGHT_SHOP.add(begin, 8) == berlin(10, 25, 5)


def test_the_two_readings_of_a_doubled_hour_lie_an_hour_apart():
    assert NIGHT_SHOP.between(berlin(10, 25, 2, 30), berlin(10, 25, 2, 30, fold=1)) == 1
    assert NIGHT_SHOP.add(berlin(10, 24, 22), 5.5) == berlin(10, 25, 2, 30, fold=1)
    assert NIGHT_SHOP.add(berlin(10, 24, 22), 5.5).fold == 1


def test_a_shift_that_begins_in_the_missing_hour_begins_when_the_clocks_jump():
    early = WorkCalendar([[]] * 6 + [[("02:30", "06:00")]])
    assert early.between(berlin(3, 29, 0), berlin(3, 29, 12)) == 3
    assert early.next_open(berlin(3, 29, 0)) == berlin(3, 29, 3)


def test_a_shift_inside_the_missing_hour_is_not_worked():
    lost = WorkCalendar([[]] * 6 + [[("02:00", "03:00")]])
    assert lost.between(berlin(3, 29, 0), berlin(3, 29, 12)) == 0
    assert lost.add(berlin(3, 29, 0), 1) == berlin(4, 5, 3)


def test_a_doubled_hour_is_worked_twice():
    doubled = WorkCalendar([[]] * 6 + [[("02:00", "03:00")]])
    assert doubled.between(berlin(10, 25, 0), berlin(10, 25, 12)) == 2


def test_day_shifts_do_not_feel_the_clock_change():
    sundays = WorkCalendar([[("08:00", "16:00")]] * 7)
    assert sundays.between(berlin(3, 28, 0), berlin(3, 31, 0)) == 24


def test_a_night_shift_stops_where_a_closed_day_begins_and_none_starts_on_it():
    shop = WorkCalendar([[("22:00", "06:00")]] * 7, closed=[date(2026, 11, 25)])
    assert shop.between(berlin(11, 24, 22), berlin(11, 25, 22)) == 2
    assert shop.between(berlin(11, 25, 0), berlin(11, 26, 22)) == 0
    assert shop.next_open(berlin(11, 25, 1)) == berlin(11, 26, 22)


def test_the_sunday_night_shift_is_still_on_on_monday_morning():
    assert NIGHT_SHOP.add(berlin(11, 23, 1), 2) == berlin(11, 23, 3)
    assert NIGHT_SHOP.add(berlin(11, 23, 1), -2) == berlin(11, 22, 23)


def test_a_skipped_calendar_day_has_no_work():
    # Samoa left out Friday 2011-12-30 altogether (time zone database).
    apia = ZoneInfo("Pacific/Apia")
    begin, end = datetime(2011, 12, 29, tzinfo=apia), datetime(2012, 1, 1, tzinfo=apia)
    assert WorkCalendar([[(8, 16)]] * 7).between(begin, end) == 16


@given(st.sampled_from(SHOPS), st.sampled_from(ZONES), MOMENTS, st.integers(0, 12 * 24 * 60))
def test_it_agrees_with_a_clock_watched_minute_by_minute(shop, zone, start, minutes):
    end = start + minutes * MINUTE
    watched = sum(_at_work(shop, (start + passed * MINUTE).astimezone(zone)) for passed in range(minutes))
    assert shop.between(start.astimezone(zone), end) == pytest.approx(watched / 60, abs=1e-9)


@given(st.sampled_from(SHOPS), st.sampled_from(ZONES), MOMENTS, HOURS)
def test_hours_added_are_the_hours_between(shop, zone, start, hours):
    begin = start.astimezone(zone)
    end = shop.add(begin, hours)
    assert shop.between(begin, end) == pytest.approx(hours, abs=1e-9)
    assert end.tzinfo is zone


@given(st.sampled_from(SHOPS), MOMENTS, HOURS.map(abs))
def test_the_end_is_the_earliest_and_the_start_the_latest_possible(shop, start, hours):
    # Moments in UTC, because adding to any other zone in Python moves the hands of the wall clock.
    local, tick = (
        WorkCalendar(_hours_after_midnight(shop), shop.closed, zone=BERLIN),
        timedelta(microseconds=1),
    )
    assert local.add(start, 0).astimezone(UTC) == start
    if hours:
        assert local.between(start, local.add(start, hours).astimezone(UTC) - tick) < hours
        assert local.between(local.add(start, -hours).astimezone(UTC) + tick, start) < hours


@given(st.sampled_from(SHOPS), MOMENTS, st.integers(0, 300), st.integers(1, 300))
def test_work_in_two_pieces_ends_when_work_in_one_does(shop, start, first, then):
    begin = start.astimezone(BERLIN)
    quarters = 1 / 4
    halfway = shop.add(begin, first * quarters)
    two, one = shop.add(halfway, then * quarters), shop.add(begin, (first + then) * quarters)
    assert two.astimezone(UTC) == one.astimezone(UTC)


@given(st.sampled_from(SHOPS), MOMENTS, MOMENTS, MOMENTS)
def test_hours_between_add_up(shop, a, b, c):
    assert shop.between(a, b) + shop.between(b, c) == pytest.approx(shop.between(a, c), abs=1e-9)
    assert shop.between(a, b) == -shop.between(b, a)


@given(st.sampled_from(SHOPS), MOMENTS)
def test_no_work_is_done_before_it_can_begin(shop, start):
    begin = start.astimezone(BERLIN)
    opens = shop.next_open(begin)
    assert opens.astimezone(UTC) >= begin.astimezone(UTC)
    assert shop.between(begin, opens) == 0
    assert shop.between(opens, opens.astimezone(UTC) + MINUTE) > 0


def test_a_calendar_with_a_zone_of_its_own_takes_moments_from_anywhere():
    shop = WorkCalendar([[(8, 16)]] * 5 + [[], []], zone=BERLIN)
    start, end = IsoWeek(2026, 43).bounds_utc(BERLIN)
    assert shop.between(start, end) == 40
    done = shop.add(datetime(2026, 11, 23, 7, tzinfo=UTC), 2)
    assert (done, done.tzinfo) == (berlin(11, 23, 10), BERLIN)


def test_every_way_to_write_a_shift_means_the_same():
    written, clock, hours = [("08:30", "24:00")], [(time(8, 30), time(0))], [(8.5, 24)]
    calendars = [WorkCalendar([shifts] * 7) for shifts in (written, clock, hours)]
    assert calendars[0] == calendars[1] == calendars[2]
    assert len(set(calendars)) == 1


def test_it_can_be_had_from_the_calendar_module():
    assert calendar.WorkCalendar is WorkCalendar


def test_shifts_that_touch_are_welcome():
    touching = WorkCalendar([[(8, 12), (12, 16)]] + [[]] * 6)
    assert touching.add(berlin(11, 23, 8), 6) == berlin(11, 23, 14)


FINE = [[(8, 16)]] * 7
NAIVE = datetime(2026, 11, 23, 8)  # noqa: DTZ001 - the mistake under test


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("week", lambda: WorkCalendar({})),
        ("week", lambda: WorkCalendar([[]] * 7)),
        ("week", lambda: WorkCalendar([[(8, 16)]] * 5)),
        ("week", lambda: WorkCalendar({7: [(8, 16)]})),
        ("week", lambda: WorkCalendar({"mon": [(8, 16)]})),
        ("week", lambda: WorkCalendar({True: [(8, 16)]})),
        ("week", lambda: WorkCalendar({0: [(8, 12), (11, 16)]})),
        ("week", lambda: WorkCalendar({0: [(0, 4)], 6: [(22, 1)]})),
        ("week", lambda: WorkCalendar({0: [(8, 8)]})),
        ("week", lambda: WorkCalendar({0: [(24, 2)]})),
        ("week", lambda: WorkCalendar({0: [(8, 25)]})),
        ("week", lambda: WorkCalendar({0: [(8, math.nan)]})),
        ("week", lambda: WorkCalendar({0: [("8:00", "16:00")]})),
        ("week", lambda: WorkCalendar({0: [("08:00", "24:30")]})),
        ("week", lambda: WorkCalendar({0: [(8, 12, 16)]})),
        ("week", lambda: WorkCalendar({0: [(time(8, tzinfo=UTC), 16)]})),
        ("week", lambda: WorkCalendar({0: "08:00-16:00"})),
        ("week", lambda: WorkCalendar(None)),
        ("closed", lambda: WorkCalendar(FINE, closed="2026-12-25")),
        ("closed", lambda: WorkCalendar(FINE, closed=[berlin(12, 25, 0)])),
        ("zone", lambda: WorkCalendar(FINE, zone="Europe/Berlin")),
        ("start", lambda: WorkCalendar(FINE).add(NAIVE, 1)),
        ("start", lambda: WorkCalendar(FINE).add("2026-11-23", 1)),
        ("a", lambda: WorkCalendar(FINE).between(NAIVE, berlin(11, 23, 8))),
        ("b", lambda: WorkCalendar(FINE).between(berlin(11, 23, 8), NAIVE)),
        ("hours", lambda: WorkCalendar(FINE).add(berlin(11, 23, 8), math.nan)),
        ("hours", lambda: WorkCalendar(FINE).add(berlin(11, 23, 8), math.inf)),
        ("hours", lambda: WorkCalendar(FINE).add(berlin(11, 23, 8), "8")),
        ("hours", lambda: WorkCalendar(FINE).add(berlin(11, 23, 8), True)),
        ("hours", lambda: WorkCalendar(FINE).add(berlin(11, 23, 8), 1e6)),
        ("start", lambda: WorkCalendar(FINE).add(datetime(9998, 12, 1, tzinfo=UTC), 1000)),
        ("start", lambda: WorkCalendar(FINE).add(datetime(1583, 2, 1, tzinfo=UTC), -1000)),
        ("moment", lambda: WorkCalendar(FINE).next_open(NAIVE)),
    ],
)
def test_nonsense_is_refused_by_name(field, wrong):
    with pytest.raises(ComputeError) as caught:
        wrong()
    assert caught.value.field == field


def _at_work(shop, there):
    """Look at the wall clock in the middle of a minute, as somebody standing in the shop would."""
    reading, day = there.replace(tzinfo=None) + MINUTE / 2, there.date()
    if day in shop.closed:
        return False
    for start_day in (day, day - timedelta(days=1)):
        midnight = datetime.combine(start_day, time())
        shifts = [] if start_day in shop.closed else shop.week[start_day.weekday()]
        if any(midnight + start <= reading < midnight + end for start, end in shifts):
            return True
    return False


def _hours_after_midnight(shop):
    return [[(start / HOUR, end / HOUR % 24) for start, end in shifts] for shifts in shop.week]
