"""Leave, lending a hand, extra hours: what cannot be is refused in words and stays typed."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from shopflow.common import clock
from shopflow.planning.models import ExtraHours, Leave, Loan
from tests import cast
from tests.page_forms import fill

from .crew_cast import MONDAY, hand

pytestmark = pytest.mark.django_db
CREW = "/load/crew/"


@pytest.fixture(autouse=True)
def monday():
    with clock.at(MONDAY):
        yield


@pytest.fixture
def office(client):
    cast.shop()
    client.force_login(cast.manager())
    return client


@pytest.fixture
def nerys(db):
    return hand("Nerys Holm", cast.department("action"), others=(cast.department("final"),))


def typed(kind, **given):
    return {f"{kind}-{name}": value for name, value in given.items()}


@pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
def test_strangers_and_bench_hands_are_turned_away(client, who, nerys):
    client.force_login(who())
    assert client.get(CREW).status_code == 403
    sent = typed("leave", person=nerys.pk, first="2026-12-01")
    assert client.post("/load/crew/leave/", sent).status_code == 403
    assert not Leave.objects.exists()


def test_the_page_shows_hours_and_benches(office, nerys):
    page = office.get(CREW).content.decode()
    assert "Nerys Holm" in page
    assert "Final" in page
    assert "<b>40</b>" in page


def test_leave_is_put_down_and_the_plan_does_not_know_it(office, nerys):
    sent = typed("leave", person=nerys.pk, first="2026-12-07", last="2026-12-11", note="a wedding")
    assert fill(office, CREW, sent).status_code == 302
    kept = Leave.objects.get()
    assert (kept.person, kept.first_day, kept.last_day) == (nerys, date(2026, 12, 7), date(2026, 12, 11))
    page = office.get(CREW).content.decode()
    assert "The plan does not know this yet" in page
    assert "is away 7 Dec to 11 Dec 2026 (a wedding)" in page


def test_a_hand_is_lent_to_a_bench_where_it_can_work(office, nerys):
    final = cast.department("final")
    sent = typed("loan", person=nerys.pk, department=final.pk, first="2026-12-07", last="2026-12-11")
    assert fill(office, CREW, sent).status_code == 302
    assert Loan.objects.get().department == final


@pytest.mark.parametrize(
    ("code", "said"), [("stringing", "cannot work in Stringing"), ("action", "works in Action anyway")]
)
def test_a_hand_is_not_lent_where_it_cannot_work(office, nerys, code, said):
    at = cast.department(code)
    sent = typed("loan", person=nerys.pk, department=at.pk, first="2026-12-07", note="busy")
    answer = fill(office, CREW, sent)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert said in page
    assert 'value="busy"' in page
    assert not Loan.objects.exists()


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        ("2026-02-30", "", "There is no such day"),
        ("", "", "required"),
        ("2026-12-11", "2026-12-07", "the last day comes after the first"),
        ("2026-12-01", "2028-01-01", "at most 366 days later"),
        ("2031-01-01", "", "allowed is 2025-11-29 to 2028-11-29"),
        ("2020-01-01", "", "allowed is 2025-11-29 to 2028-11-29"),
        ("9" * 20, "", "There is no such day"),
    ],
)
def test_impossible_days_are_refused_with_what_is_allowed(office, nerys, first, last, said):
    answer = fill(office, CREW, typed("leave", person=nerys.pk, first=first, last=last))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Leave.objects.exists()


@pytest.mark.parametrize("hours", ["0", "-1", "4.5", "inf", "nan", "1e9", "many", ""])
def test_impossible_hours_are_refused_with_what_is_allowed(office, nerys, hours):
    sent = typed("more", person=nerys.pk, hours_a_day=hours, first="2026-12-07")
    answer = fill(office, CREW, sent)
    assert answer.status_code == 422
    assert "0.5 to 4" in answer.content.decode()
    assert not ExtraHours.objects.exists()


def test_an_overlap_is_named(office, nerys):
    Leave.objects.create(person=nerys, first_day=date(2026, 12, 7), last_day=date(2026, 12, 11))
    answer = fill(office, CREW, typed("leave", person=nerys.pk, first="2026-12-11", last="2026-12-20"))
    assert answer.status_code == 422
    assert "Nerys Holm is away 7 Dec to 11 Dec 2026 already" in answer.content.decode()


def test_a_loan_during_leave_is_kept_and_said(office, nerys):
    Leave.objects.create(person=nerys, first_day=date(2026, 12, 7), last_day=date(2026, 12, 8))
    final = cast.department("final")
    sent = typed("loan", person=nerys.pk, department=final.pk, first="2026-12-07", last="2026-12-11")
    assert fill(office, CREW, sent).status_code == 302
    assert "In the same time: Nerys Holm is away 7 Dec to 8 Dec 2026." in office.get(CREW).content.decode()


def test_what_is_under_way_ends_and_what_is_to_come_goes(office, nerys):
    today = MONDAY.date()
    under_way = Leave.objects.create(
        person=nerys, first_day=today - timedelta(days=3), last_day=today + timedelta(days=3)
    )
    to_come = Leave.objects.create(
        person=nerys, first_day=today + timedelta(days=9), last_day=today + timedelta(days=9)
    )
    for row in (under_way, to_come):
        assert office.post(f"/load/crew/leave/{row.pk}/end/").status_code == 302
    assert Leave.objects.get().last_day == today - timedelta(days=1)


def test_a_kind_that_is_none_is_404(office, nerys):
    assert office.post("/load/crew/holiday/", {}).status_code == 404


def test_the_page_asks_as_many_questions_for_more_people(office, nerys, django_assert_max_num_queries):
    for number in range(12):
        someone = hand(f"Hand {number}", nerys.home)
        Leave.objects.create(person=someone, first_day=date(2026, 12, 7), last_day=date(2026, 12, 8))
    with django_assert_max_num_queries(16):
        office.get(CREW)
