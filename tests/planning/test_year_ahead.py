"""The rest of the year by the plan, the narrow place, and whether estimates are true."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from shopflow.catalogue.models import Kind
from shopflow.common import clock
from shopflow.planning.models import AnnualTarget, KindSize
from shopflow.planning.selectors.load import load_table
from shopflow.planning.selectors.narrow import narrow_place
from shopflow.planning.selectors.trueness import trueness
from shopflow.planning.services.plans import make_plan
from shopflow.workshop.services import hours
from tests import cast

from .crew_cast import MONDAY, hand, line, plan

pytestmark = pytest.mark.django_db
YEAR, ESTIMATES = "/year/", "/year/estimates/"


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


def planned():
    return make_plan(by_name="Maud Ferrier", seconds=0.0, publish=True)


class TestTheFan:
    def test_it_ends_where_the_year_ends_and_never_falls(self, task):
        AnnualTarget.objects.create(year=2026, instruments=1)
        figures = planned().figures["year"]
        weeks = figures["weeks"]
        assert [row["week"] for row in weeks] == [f"2026-W{week}" for week in range(49, 54)]
        for name in ("p10", "p50", "p90"):
            counts = [row[name] for row in weeks]
            assert counts == sorted(counts)
            assert counts[-1] == figures[name]
        # Two hours of work that only have to harden: done in the first or the second week.
        assert (weeks[1]["p50"], figures["odds"]) == (1, 1.0)

    def test_the_page_says_the_odds_and_draws_the_fan(self, office, task):
        AnnualTarget.objects.create(year=2026, instruments=3)
        planned()
        page = office.get(YEAR).content.decode()
        assert "Will we make the 3?" in page
        assert "Hardly ever" in page
        assert "Where the year 2026 will end" in page
        assert "The narrow place is Refinishing." in page

    def test_without_a_plan_or_a_target_there_is_nothing_of_it(self, office, task):
        assert "Will we make" not in office.get(YEAR).content.decode()
        planned()
        assert "Will we make" not in office.get(YEAR).content.decode()

    def test_a_plan_made_before_fans_were_kept_shows_its_figures_alone(self, office, task):
        figures = {"year": 2026, "target": 70, "finished": 60, "odds": 0.4, "p10": 66, "p50": 69, "p90": 72}
        plan(figures={"year": figures})
        page = office.get(YEAR).content.decode()
        assert "4 in 10" in page
        assert "66 to 72 in 8 of 10 runs" in page
        assert "Where the year 2026 will end" not in page

    def test_kinds_count_by_their_size(self, office, task):
        AnnualTarget.objects.create(year=2026, instruments=3)
        assert planned().figures["year"]["sized"] is None
        KindSize.objects.create(kind=Kind.UPRIGHT, size=Decimal("0.8"))
        assert planned().figures["year"]["sized"] == {"finished": 0, "floor": 0.8}
        assert "By the sizes of their kinds: 0 finished, 0.8" in office.get(YEAR).content.decode()


class TestTheNarrowPlace:
    def test_it_is_the_department_with_the_least_room(self, task, maud):
        action = cast.department("action")
        hand("Ada Lund", action)
        other = cast.task(cast.operation("regulate", at=action), on=task.instrument, by=maud)
        made = plan()
        line(made, task, MONDAY, MONDAY + timedelta(days=11, hours=8), 45)
        line(made, other, MONDAY, MONDAY + timedelta(hours=8), 5)
        found = narrow_place(load_table(made, now=MONDAY))
        assert found.department == task.department
        # Eight weeks of five days of eight paid hours, of which the shop's share is on the work.
        assert found.to_be_had == pytest.approx(8 * 40 * float(cast.shop().hands_on_share))
        assert found.wanted == pytest.approx(45)
        assert found.next == action
        assert f"45 of its {found.to_be_had:.0f} hands-on hours" in found.words

    def test_an_idle_house_has_none(self, task):
        assert narrow_place(load_table(plan(), now=MONDAY)) is None


class TestEstimates:
    @pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
    def test_strangers_and_bench_hands_are_turned_away(self, client, task, who):
        client.force_login(who("Somebody Else"))
        assert client.get(ESTIMATES).status_code == 403

    def signed(self, number, spent, *, by):
        op = cast.Operation.objects.first() or cast.operation()
        greta = cast.Person.objects.filter(name="Greta Lunt").first() or cast.finisher("Greta Lunt")
        made = cast.task(op, on=cast.instrument(by=by, number=number), by=by)
        hours.enter_hours(task=made, hours=Decimal(spent), by=greta)
        cast.walk(made, by=greta, until="proving")
        cast.send(made, "signed", by=by)

    def test_spent_is_set_against_quoted(self, office, maud):
        for number, spent in (("301", "3"), ("302", "3.5"), ("303", "4")):
            self.signed(number, spent, by=maud)
        (row,) = trueness().rows
        assert (row.quoted, row.mean, row.ratio, row.word) == (2.0, 3.5, 1.75, "takes longer")
        assert row.estimate.n == 3
        assert 2.0 < row.estimate.likely < 4.0
        page = office.get(ESTIMATES).content.decode()
        assert "1.75" in page
        assert "takes longer" in page

    def test_only_the_last_ten_are_told(self, maud):
        for place in range(12):
            self.signed(str(400 + place), "8" if place < 2 else "2", by=maud)
        (row,) = trueness().rows
        assert (len(row.spent), row.ratio, row.word) == (12, 1.0, "")

    def test_without_signed_hours_the_page_says_so(self, office, task):
        assert "No signed work has hours on it yet" in office.get(ESTIMATES).content.decode()
        assert trueness().ratio is None


def test_the_year_page_asks_as_often_for_a_hundred_instruments(office, task, django_assert_num_queries):
    figures = {"year": 2026, "target": 70, "finished": 60, "odds": 0.4, "p10": 66, "p50": 69, "p90": 72}
    made = plan(figures={"year": figures})
    line(made, task, MONDAY, MONDAY + timedelta(hours=8), 4)
    with django_assert_num_queries(26):
        office.get(YEAR)
    for piano in cast.crowd(100):
        line(made, piano.tasks.get(), MONDAY, MONDAY + timedelta(hours=8), 1)
    with django_assert_num_queries(26):
        office.get(YEAR)
