"""The plan along the days: stretches keep the plan's hours, strips lie right, lists tell the same."""

from __future__ import annotations

import itertools
from datetime import date, timedelta

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from shopflow.common import clock
from shopflow.compute.calendar import IsoWeek
from shopflow.planning import picture
from shopflow.planning.models import ClosedDay
from shopflow.planning.picture import Bar, Paper
from shopflow.planning.selectors import timeline as questions
from shopflow.planning.selectors.bench_week import bench_week
from tests import cast

from .crew_cast import MONDAY, hand, line, plan

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 30)
ALL, BENCH, WEEK = "/plan/", "/plan/refinishing/", "/plan/refinishing/week/"


def hours(number: float) -> timedelta:
    return timedelta(hours=number)


@pytest.fixture(autouse=True)
def monday():
    with clock.at(MONDAY):
        yield


@pytest.fixture
def maud(db):
    cast.shop()
    return cast.manager()


@pytest.fixture
def office(client, maud):
    client.force_login(maud)
    return client


@pytest.fixture
def task(maud):
    made = cast.task(cast.operation(), on=cast.instrument(by=maud, number="214"), by=maud)
    hand("Finn Tarrow", made.department)
    return made


@pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
@pytest.mark.parametrize("url", [ALL, BENCH, WEEK])
def test_strangers_and_bench_hands_are_turned_away(client, task, who, url):
    client.force_login(who("Somebody Else"))
    assert client.get(url).status_code == 403


@pytest.mark.parametrize("url", [ALL, BENCH, WEEK])
def test_without_a_plan_each_page_says_so(office, task, url):
    assert "There is no plan yet" in office.get(url).content.decode()


def test_a_bench_that_is_not_there_is_404(office, task):
    plan()
    assert office.get("/plan/nowhere/").status_code == 404
    assert office.get("/plan/nowhere/week/").status_code == 404


class TestStretches:
    def test_a_weekend_is_no_break_and_a_fortnight_is(self, task):
        made = plan()
        friday = MONDAY + timedelta(days=4)
        lines = [
            line(made, task, friday, friday + hours(8), 5.5, part=0),
            line(made, task, friday + timedelta(days=3), friday + timedelta(days=3, hours=4), 2.5, part=1),
            line(made, task, friday + timedelta(days=20), friday + timedelta(days=20, hours=4), 3, part=2),
        ]
        first, second = questions.stretches(lines)
        assert (first.starts, first.ends, first.hours) == (lines[0].starts_at, lines[1].ends_at, 8.0)
        assert second.hours == 3.0
        assert first.tasks == ("Strip",)

    def test_a_rest_between_belongs_to_the_stretch(self, task):
        made = plan()
        one = line(made, task, MONDAY, MONDAY + hours(8), 4)
        one.rest_until = MONDAY + timedelta(days=10)
        other = line(made, task, MONDAY + timedelta(days=11), MONDAY + timedelta(days=11, hours=2), 1, part=1)
        (both,) = questions.stretches([one, other])
        assert both.rest_until is None
        assert both.ends == other.ends_at

    def test_hours_shown_are_the_plans_hours_without_what_is_signed(self, task, maud):
        made = plan()
        other = cast.task(cast.operation("mend"), on=task.instrument, by=maud)
        line(made, task, MONDAY, MONDAY + hours(8), 4)
        line(made, other, MONDAY + hours(8), MONDAY + hours(20), 6.5)
        cast.walk(other, by=cast.finisher("Greta Lunt"), until="proving")
        cast.send(other, "signed", by=maud)
        (row,) = questions.timeline(made, now=MONDAY).rows
        assert sum(one.hours for one in row.stretches) == 4.0


class TestThePaper:
    paper = Paper(TODAY, 14, 10.0, {date(2026, 12, 5)})

    def test_noon_lies_in_the_middle_of_its_day_and_what_is_outside_at_the_edge(self):
        assert self.paper.x(MONDAY.replace(hour=12)) == pytest.approx(5.0)
        assert self.paper.x(MONDAY - timedelta(days=3)) == 0
        assert self.paper.x(MONDAY + timedelta(days=90)) == 140

    def test_a_promise_outside_is_not_drawn(self):
        assert self.paper.of_day(TODAY + timedelta(days=3)) == pytest.approx(38)
        assert self.paper.of_day(TODAY + timedelta(days=14)) is None

    def test_closed_days_are_shaded(self):
        assert "M50 0h10v20h-10z" in self.paper.ground(20)

    def test_words_of_the_shop_stay_words(self):
        bad = '"><script>alert(1)</script>'
        bar = Bar(MONDAY, MONDAY + timedelta(days=9), "walnut", bad, bad, url=bad)
        drawn = picture.strip(self.paper, [bar], now=MONDAY, words=bad)
        assert "<script" not in drawn
        assert '""' not in drawn

    @given(st.lists(st.tuples(st.integers(0, 200), st.integers(1, 60)), max_size=10))
    def test_no_bar_covers_another_and_none_is_lost(self, spans):
        bars = [
            Bar(MONDAY + hours(start), MONDAY + hours(start + long), "walnut", "RF", "")
            for start, long in spans
        ]
        tracks = picture.in_tracks(bars)
        assert sum(map(len, tracks)) == len(bars)
        for track in tracks:
            for one, after in itertools.pairwise(track):
                assert one.over <= after.starts
        busiest = max((sum(b.starts <= a.starts < b.ends for b in bars) for a in bars), default=0)
        assert len(tracks) == busiest


def test_the_pages_lead_to_each_other_and_tell_the_same_as_a_list(office, task):
    line(plan(), task, MONDAY, MONDAY + hours(4), 3.5)
    page = office.get(ALL).content.decode()
    assert f'href="{BENCH}"' in page
    assert 'id="i-214"' in page
    assert '<td class="num" data-label="Hours">3.5</td>' in page
    bench = office.get(BENCH).content.decode()
    assert 'href="/plan/#i-214"' in bench
    assert f'href="{WEEK}"' in bench
    assert "Mon 30 Nov, 12:00" in bench


def test_closed_days_and_weekends_are_closed_on_the_paper(office, task):
    ClosedDay.objects.create(day=date(2026, 12, 2))
    line(plan(), task, MONDAY, MONDAY + hours(4), 3.5)
    page = office.get(ALL).content.decode()
    for place in (2, 5, 6):
        assert f"M{9 * place} 0h9v" in page
    assert "M27 0h9v" not in page


class TestTheListBesideTheBench:
    def test_it_is_in_order_of_start_with_place_and_reason(self, office, task, maud):
        made = plan()
        piano = task.instrument
        piano.place, piano.fragile, piano.promised_on = "bay 3", "cracked desk", date(2026, 12, 14)
        piano.save()
        after = cast.task(cast.operation("rub-out"), on=piano, by=maud, needs=[task])
        line(made, after, MONDAY + hours(30), MONDAY + hours(34), 2)
        line(made, task, MONDAY, MONDAY + hours(4), 3.5)
        first, second = bench_week(made, task.department, IsoWeek.of(TODAY), now=MONDAY, today=TODAY)
        assert (first.line.task, second.line.task) == (task, after)
        assert first.waiting == ["Rub-out (Refinishing)"]
        page = office.get(WEEK).content.decode()
        for words in (
            "This week on the refinishing bench",
            "bay 3",
            "Fragile: cracked desk",
            "Promised Mon 14 Dec, in 14 days",
            "Rub-out (Refinishing) waits for it",
            'class="box"',
        ):
            assert words in page

    def test_the_next_week_is_another_list(self, office, task):
        made = plan()
        line(made, task, MONDAY + timedelta(days=8), MONDAY + timedelta(days=8, hours=3), 3)
        assert "Nothing is planned here" in office.get(WEEK).content.decode()
        assert reverse("workshop:task", args=[task.pk]) in office.get(f"{BENCH}2026-W50/").content.decode()

    def test_a_task_whose_hands_are_done_is_only_to_sign(self, office, task):
        line(plan(), task, MONDAY, MONDAY, 0)
        assert ">to sign</td>" in office.get(WEEK).content.decode()

    def test_what_was_not_done_is_left_over(self, task):
        made = plan()
        line(made, task, MONDAY, MONDAY + hours(4), 3.5)
        later, day = MONDAY + timedelta(days=9), TODAY + timedelta(days=9)
        (piece,) = bench_week(made, task.department, IsoWeek.of(day), now=later, today=day)
        assert piece.overdue

    @pytest.mark.parametrize("week", ["2026-W48", "2027-W40", "2026-49", "soon"])
    def test_a_week_that_is_none_or_past_is_404(self, office, task, week):
        plan()
        assert office.get(f"{BENCH}{week}/").status_code == 404


@pytest.mark.parametrize(("url", "count"), [(ALL, 8), (BENCH, 11), (WEEK, 10)])
def test_the_pages_ask_as_often_for_a_hundred_instruments(
    office, task, url, count, django_assert_num_queries
):
    made = plan()
    line(made, task, MONDAY, MONDAY + hours(8), 4)
    with django_assert_num_queries(count):
        office.get(url)
    for piano in cast.crowd(100):
        line(made, piano.tasks.get(), MONDAY, MONDAY + hours(8), 1)
    with django_assert_num_queries(count):
        office.get(url)
