"""What a weekly report counts, and when."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from shopflow.catalogue.models import Stage
from shopflow.common import clock
from shopflow.compute.calendar import IsoWeek
from shopflow.instruments.models import Instrument
from shopflow.planning.models import AnnualTarget, ClosedDay
from shopflow.reports.selectors.in_hand import open_tasks
from shopflow.reports.selectors.week import week_figures
from shopflow.workshop.models import Move, Passage, Task
from shopflow.workshop.services import hours, layout, moves, passages, snags
from tests import cast

from .shop import RandomShop

pytestmark = [pytest.mark.django_db, pytest.mark.data_layer]

W48 = IsoWeek(2026, 48)
TUESDAY = datetime(2026, 11, 24, 10, tzinfo=UTC)


@pytest.fixture(autouse=True)
def house():
    with timezone.override(cast.shop().zone):
        yield


@pytest.fixture
def maud():
    return cast.manager()


def arrive(maud, when: datetime, *operations):
    """An instrument taken in at this moment, with work laid out."""
    with clock.at(when):
        piano = cast.instrument(by=maud)
        return piano, [
            cast.task(operation, on=piano, by=maud) for operation in operations or [cast.operation()]
        ]


def finish(task, maud, when: datetime) -> None:
    with clock.at(when):
        cast.send(task, "signed", by=maud, override=True, reason="as seen")


def take_up_again(task, maud, when: datetime) -> None:
    with clock.at(when):
        cast.send(task, "stripped", by=maud, override=True, reason="a run in the lacquer")


def test_a_finished_instrument_is_named_with_its_lead_time(maud):
    piano, (task,) = arrive(maud, TUESDAY - timedelta(days=30))
    finish(task, maud, TUESDAY)
    told = week_figures(W48)
    assert told["finished"]["net"] == 1
    (row,) = told["finished"]["rows"]
    assert (row["number"], row["title"], row["days"]) == (piano.number, "Bexcombe upright, 1904", 30)
    assert told["lead_week"] == {"n": 1, "median": 30.0, "p80": 30.0}


def test_what_is_opened_again_in_its_own_week_was_not_finished_in_it(maud):
    _, (task,) = arrive(maud, TUESDAY - timedelta(days=30))
    finish(task, maud, TUESDAY)
    take_up_again(task, maud, TUESDAY + timedelta(days=1))
    told = week_figures(W48)
    assert told["finished"] == {"net": 0, "rows": [], "opened_again": []}


def test_what_is_opened_again_later_is_taken_off_the_week_in_which_that_happened(maud):
    piano, (task,) = arrive(maud, TUESDAY - timedelta(days=30))
    finish(task, maud, TUESDAY)
    take_up_again(task, maud, TUESDAY + timedelta(days=7))
    assert week_figures(W48)["finished"]["net"] == 1
    after = week_figures(W48.next())
    assert after["finished"]["net"] == -1
    assert [row["number"] for row in after["finished"]["opened_again"]] == [piano.number]
    assert after["year"]["finished"] == 0
    assert after["lead_13_weeks"]["n"] == 0


def test_a_piano_that_comes_back_and_is_finished_again_is_a_second_piece_of_work(maud):
    piano, (task,) = arrive(maud, TUESDAY - timedelta(days=30))
    finish(task, maud, TUESDAY)
    with clock.at(TUESDAY + timedelta(days=1)):
        passages.let_leave(instrument=piano, by=maud)
    with clock.at(TUESDAY + timedelta(days=14)):
        piano.refresh_from_db()
        passages.arrive(instrument=piano, on=clock.today(), by=maud)
        second = cast.task(cast.operation("voice"), on=piano, by=maud)
    finish(second, maud, TUESDAY + timedelta(days=21))
    told = week_figures(W48.later(3))
    assert told["year"]["finished"] == 2
    assert told["finished"]["rows"][0]["days"] == 7


@pytest.mark.parametrize(
    ("zone", "moment", "week"),
    [
        # The clocks go back on 25 October 2026 in London: that week has 169 hours.
        ("Europe/London", datetime(2026, 10, 18, 22, 59, tzinfo=UTC), "2026-W42"),
        ("Europe/London", datetime(2026, 10, 18, 23, 0, tzinfo=UTC), "2026-W43"),
        ("Europe/London", datetime(2026, 10, 25, 23, 59, tzinfo=UTC), "2026-W43"),
        ("Europe/London", datetime(2026, 10, 26, 0, 0, tzinfo=UTC), "2026-W44"),
        # They go forward on 8 March 2026 in New York: 167 hours.
        ("America/New_York", datetime(2026, 3, 2, 4, 59, tzinfo=UTC), "2026-W09"),
        ("America/New_York", datetime(2026, 3, 2, 5, 0, tzinfo=UTC), "2026-W10"),
        ("America/New_York", datetime(2026, 3, 9, 3, 59, tzinfo=UTC), "2026-W10"),
        ("America/New_York", datetime(2026, 3, 9, 4, 0, tzinfo=UTC), "2026-W11"),
        # 2026 has 53 weeks: Sunday 3 January 2027 counts for 2026.
        ("Europe/London", datetime(2027, 1, 3, 23, 59, tzinfo=UTC), "2026-W53"),
        ("Europe/London", datetime(2027, 1, 4, 0, 0, tzinfo=UTC), "2027-W01"),
    ],
)
def test_a_finish_counts_in_the_week_that_the_shops_own_clock_showed(maud, zone, moment, week):
    with timezone.override(cast.shop(time_zone=zone).zone):
        _, (task,) = arrive(maud, moment - timedelta(days=9))
        finish(task, maud, moment)
        right = IsoWeek.parse(week)
        nets = [week_figures(one)["finished"]["net"] for one in (right.previous(), right, right.next())]
        assert nets == [0, 1, 0]
        assert week_figures(right)["year"]["finished"] == 1
        assert week_figures(right)["year"]["year"] == right.year


def test_tasks_signed_and_hours_earned_are_net_of_undone_ones(maud):
    strip, sand = cast.operation("strip"), cast.operation("sand", upright_likely=3)
    _, (one, two) = arrive(maud, TUESDAY - timedelta(days=20), strip, sand)
    finish(one, maud, TUESDAY)
    finish(two, maud, TUESDAY + timedelta(hours=1))
    with clock.at(TUESDAY + timedelta(hours=2)):
        moves.undo_move(move_id=Move.objects.filter(task=two).last().pk, by=maud, tap=cast.tap(maud))
        hours.enter_hours(task=one, hours=Decimal("2.5"), by=maud)
    (row,) = week_figures(W48)["benches"]
    assert (row["signed"], row["hours_earned"], row["hours_spent"]) == (1, 2.0, 2.5)


def test_open_tasks_stand_in_one_state_each_as_they_stood_when_the_week_ended(maud):
    ops = [cast.operation(code) for code in ("strip", "sand", "rub-out", "polish")]
    piano, tasks = arrive(maud, TUESDAY, *ops)
    with clock.at(TUESDAY + timedelta(hours=1)):
        cast.send(tasks[0], "stripped", by=maud)
        cast.send(tasks[1], "hardening", by=maud, override=True, reason="brought in so")
        snags.raise_snag(task=tasks[2], cause="part", reason="no hinge", ask_again_on=clock.today(), by=maud)
    with clock.at(TUESDAY + timedelta(days=9)):
        cast.send(tasks[0], "signed", by=maud, override=True, reason="as seen")
        layout.drop_task(task=tasks[3], by=maud, reason="not wanted")
        cast.task(cast.operation("wax"), on=piano, by=maud)
    (row,) = week_figures(W48)["benches"]
    states = {kind: row[kind] for kind in ("racked", "benched", "resting", "proving", "stopped")}
    assert states == {"racked": 1, "benched": 1, "resting": 1, "proving": 0, "stopped": 1}
    assert row["hours_open"] == 8.0
    assert week_figures(W48)["in_hand"]["under_way"] == 1


def test_each_snag_is_told_with_its_owner_and_its_age_at_the_end_of_the_week(maud):
    piano, (task,) = arrive(maud, TUESDAY - timedelta(days=40))
    for days in (0, 4, 9, 20):
        with clock.at(TUESDAY - timedelta(days=days)):
            snags.raise_snag(
                task=task,
                cause="customer",
                reason=f"undecided {days}",
                ask_again_on=clock.today(),
                by=maud,
                owner_outside="the owner",
            )
    told = week_figures(W48)
    # Counted to Sunday midnight: Tuesday morning is five days before it.
    assert [age["count"] for age in told["snag_ages"]] == [0, 1, 2, 1]
    first = told["snags"][0]
    assert (first["number"], first["owner"], first["days"]) == (piano.number, "the owner", 25)


def test_a_snag_cleared_after_the_week_was_open_in_it(maud):
    _, (task,) = arrive(maud, TUESDAY)
    with clock.at(TUESDAY):
        snag = snags.raise_snag(
            task=task, cause="part", reason="no hinge", ask_again_on=clock.today(), by=maud
        )
    with clock.at(TUESDAY + timedelta(days=8)):
        snags.clear_snag(snag=snag, by=maud)
    assert len(week_figures(W48)["snags"]) == 1
    assert week_figures(W48.next())["snags"] == []


def test_a_tap_that_came_late_counts_where_it_came_and_is_told_of(maud):
    _, (task,) = arrive(maud, TUESDAY - timedelta(days=20))
    with clock.at(TUESDAY):
        cast.send(task, "stripped", by=maud)
        late = cast.tap(maud, tapped_at=TUESDAY - timedelta(days=4))
        task.refresh_from_db()
        signed = Stage.objects.get(department=task.department, code="signed")
        moves.move_task(
            task_id=task.pk,
            to_stage_id=signed.pk,
            seen_stage_id=task.stage_id,
            by=maud,
            tap=late,
            override=True,
            reason="as seen",
        )
    assert week_figures(W48)["late_taps"] == 1
    assert week_figures(W48)["finished"]["net"] == 1
    assert week_figures(W48.previous())["finished"]["net"] == 0


def test_the_years_count_stands_against_the_target_laid_over_open_weeks(maud):
    AnnualTarget.objects.create(year=2026, instruments=53)
    ClosedDay.objects.bulk_create(ClosedDay(day=day) for day in IsoWeek(2026, 53).days())
    _, (task,) = arrive(maud, TUESDAY - timedelta(days=20))
    finish(task, maud, TUESDAY)
    year = week_figures(W48)["year"]
    # 52 open weeks carry 53: by the end of week 48 that is 48 of 52, and 4 weeks are left.
    assert year["aim"] == pytest.approx(53 * 48 / 52, abs=0.01)
    assert year["needed_per_week"] == 52 / 4
    assert year["aims"][-1] == year["aims"][-2] == 53
    assert week_figures(IsoWeek(2026, 53))["needed"] == 0


def test_without_a_target_nothing_is_said_to_be_needed(maud):
    arrive(maud, TUESDAY)
    year = week_figures(W48)["year"]
    assert (year["target"], year["aim"], year["needed_per_week"], year["aims"]) == (None,) * 4


def test_littles_law_shows_both_sides(maud):
    """Two instruments a week for 26 weeks, each in hand for three weeks: 2 x 3 = 6."""
    begin = datetime(2026, 3, 2, 10, tzinfo=UTC)
    for k in range(52):
        piano = Instrument.objects.create(number=f"L{k}", kind="upright")
        came = begin + timedelta(days=7 * (k // 2))
        done = came + timedelta(days=21)
        for kind, when in (("arrived", came), ("finished", done)):
            Passage.objects.create(instrument=piano, kind=kind, on=when.date(), recorded_at=when, by=maud)
    law = week_figures(IsoWeek(2026, 35))["littles_law"]
    assert law is not None
    assert (law.pop("came"), law.pop("went")) == (26, 26)
    assert law == {"weeks": 13.0, "in_hand": 6.0, "throughput": 2.0, "lead_weeks": 3.0, "product": 6.0}


def test_a_running_week_is_told_up_to_now(maud):
    AnnualTarget.objects.create(year=2026, instruments=53)
    _, (task,) = arrive(maud, TUESDAY - timedelta(days=20))
    finish(task, maud, TUESDAY)
    told = week_figures(W48, until=TUESDAY + timedelta(hours=1))
    assert told["so_far"]
    assert told["finished"]["net"] == 1
    assert told["year"]["aim"] == pytest.approx(53 * (47 * 5 + 2) / (53 * 5), abs=0.01)


@pytest.mark.parametrize(
    ("seed", "begin", "weeks", "zone"),
    [
        (1, date(2026, 12, 7), 6, "Europe/London"),
        (2, date(2026, 3, 16), 4, "America/New_York"),
        (3, date(2026, 10, 12), 4, "Europe/London"),
    ],
)
def test_a_report_made_late_says_what_a_punctual_one_said(seed, begin, weeks, zone):
    """And the weeks add up to the year, and the rolled-back stages are those of a ledger read forward."""
    with timezone.override(ZoneInfo(zone)):
        house = RandomShop(seed=seed, begin=begin, zone=zone)
        punctual, stood = {}, {}
        for passed in range(weeks):
            week = IsoWeek.of(begin).later(passed)
            house.work(hours=7 * 24 - 3 if passed == 0 else 7 * 24)
            with clock.at(house.now):
                punctual[week] = week_figures(week)
                stood[week] = stages_read_forward(until=week.bounds_utc(ZoneInfo(zone))[1])
        assert Passage.objects.filter(kind="finished").count() > weeks
        assert sum(one["finished"]["net"] for one in punctual.values()) > 0
        for week, told in punctual.items():
            assert week_figures(week) == told
            end = week.bounds_utc(ZoneInfo(zone))[1]
            assert {task.pk: task.kind for task in open_tasks(at=end)} == stood[week]
        for year in {week.year for week in punctual}:
            nets = [told["finished"]["net"] for week, told in punctual.items() if week.year == year]
            last = max(week for week in punctual if week.year == year)
            assert punctual[last]["year"]["finished"] == sum(nets)


def stages_read_forward(*, until: datetime) -> dict[int, str]:
    """The kind of stage of every open task, read from the ledger's first line on."""
    stages = dict(Stage.objects.values_list("pk", "kind"))
    stood = {}
    for task in Task.objects.filter(created_at__lt=until).exclude(dropped_at__lt=until):
        last = Move.objects.filter(task=task, recorded_at__lt=until).order_by("pk").last()
        stood[task.pk] = stages[last.target_id if last else task.path[0]]
    return {pk: kind for pk, kind in stood.items() if kind != Stage.Kind.SIGNED}


def crowd(maud, count: int) -> None:
    """So many instruments, each with an open task, half of them finished in the week."""
    operation, bench = cast.operation(f"crowd-{count}"), cast.department()
    rack, signed = (bench.stages.get(code=code) for code in ("rack", "signed"))
    pianos = Instrument.objects.bulk_create(
        Instrument(number=f"C{count}-{k}", kind="upright") for k in range(count)
    )
    tasks = Task.objects.bulk_create(
        Task(
            instrument=piano,
            department=bench,
            operation=operation,
            name="Strip",
            path=[rack.pk, signed.pk],
            stage=rack,
            stage_since=TUESDAY,
            created_at=TUESDAY - timedelta(days=5),
            hours_low=1,
            hours_likely=2,
            hours_high=3,
        )
        for piano in pianos
    )
    Passage.objects.bulk_create(
        Passage(instrument=piano, kind=kind, on=when.date(), recorded_at=when, by=maud)
        for k, piano in enumerate(pianos)
        for kind, when in [("arrived", TUESDAY - timedelta(days=5)), ("finished", TUESDAY)][: 1 + k % 2]
    )
    assert len(tasks) == count


def test_the_number_of_queries_does_not_grow_with_the_shop(maud):
    crowd(maud, 10)
    with CaptureQueriesContext(
        connection,
    ) as few:
        week_figures(W48)
    crowd(maud, 1000)
    with CaptureQueriesContext(connection) as many:
        told = week_figures(W48)
    assert len(many) == len(few) <= 16
    assert told["in_hand"]["in_house"] == 1010
    assert told["finished"]["net"] == 505
