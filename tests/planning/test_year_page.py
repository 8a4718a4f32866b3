"""The year's target is the owner's to set, the closed days the office's; the working weeks follow."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shopflow.common import clock
from shopflow.people.models import WorkingDay
from shopflow.planning.models import AnnualTarget, ClosedDay
from shopflow.planning.selectors import weekdays_worked, year_sheet
from shopflow.planning.services import year as services
from tests import cast
from tests.page_forms import fill

pytestmark = pytest.mark.django_db
YEAR = "/set-up/year/?year=2027"
HTMX = {"HX-Request": "true"}


@pytest.fixture
def ottilie(db):
    return cast.owner()


@pytest.fixture
def owner(client, ottilie):
    client.force_login(ottilie)
    return client


@pytest.fixture
def maud(db):
    return cast.manager()


@pytest.fixture
def office(client, maud):
    client.force_login(maud)
    return client


def days(*pairs):
    return ClosedDay.objects.bulk_create(ClosedDay(day=day, name=name) for day, name in pairs)


# --- who ---

POSTS = ["/set-up/year/2027/target/", "/set-up/year/2027/closed/", "/set-up/year/closed/1/reopen/"]


def test_whoever_is_not_signed_in_is_sent_to_the_door(client):
    assert client.get(YEAR)["Location"].startswith(reverse("people:sign-in"))
    for url in POSTS:
        assert client.post(url)["Location"].startswith(reverse("people:sign-in"))


@pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
def test_strangers_and_bench_hands_are_turned_away(client, who):
    days((date(2027, 1, 1), "New Year"))
    client.force_login(who())
    assert client.get(YEAR).status_code == 403
    for url in POSTS:
        assert client.post(url, {"instruments": 9, "first": "2027-05-05"}).status_code == 403
    assert ClosedDay.objects.count() == 1
    assert not AnnualTarget.objects.exists()


def test_a_manager_sees_the_target_and_cannot_set_it(office, maud):
    AnnualTarget.objects.create(year=2027, instruments=70)
    page = office.get(YEAR).content.decode()
    assert "70 instruments. The owner sets it." in page
    assert office.post("/set-up/year/2027/target/", {"instruments": 90}).status_code == 403
    with pytest.raises(PermissionDenied):
        services.set_target(year=2027, instruments=90, by=maud)
    assert AnnualTarget.objects.get().instruments == 70


# --- target ---


def test_the_owner_sets_the_target_and_changes_it(owner):
    assert fill(owner, YEAR, {"instruments": "70"}).status_code == 302
    assert fill(owner, YEAR, {"instruments": "72"}).status_code == 302
    assert AnnualTarget.objects.get(year=2027).instruments == 72


@pytest.mark.parametrize("typed", ["0", "-1", "5001", "1.5", "seventy", "", "1e3", "9" * 30])
def test_a_target_that_cannot_be_is_explained_and_stays_typed(owner, typed):
    answer = fill(owner, YEAR, {"instruments": typed})
    assert answer.status_code == 422
    assert f'value="{typed}"' in answer.content.decode() or not typed
    assert not AnnualTarget.objects.exists()


def test_the_second_of_two_who_set_it_sees_both_versions(owner):
    AnnualTarget.objects.create(year=2027, instruments=70)
    seen = owner.get(YEAR).context["target_form"].fingerprint
    fill(owner, YEAR, {"instruments": "80"})
    answer = owner.post("/set-up/year/2027/target/", {"instruments": "60", "seen": seen})
    assert answer.status_code == 409
    assert "now: 80" in answer.content.decode()
    assert AnnualTarget.objects.get().instruments == 80


# --- closed days ---


def test_a_single_day_is_closed(office):
    typed = {"first": "2027-05-01", "name": "  Labour   day "}
    assert fill(office, YEAR, typed).status_code == 302
    kept = ClosedDay.objects.get()
    assert (kept.day, kept.name) == (date(2027, 5, 1), "Labour day")


def test_a_range_closes_the_days_on_which_somebody_works(office):
    typed = {"first": "2027-07-26", "last": "2027-08-08", "name": "summer"}
    assert fill(office, YEAR, typed).status_code == 302
    closed = list(ClosedDay.objects.values_list("day", flat=True))
    assert len(closed) == 10
    assert {day.weekday() for day in closed} == {0, 1, 2, 3, 4}


def test_a_range_keeps_the_names_of_days_that_were_closed_already(office):
    days((date(2027, 12, 27), "bank holiday"))
    fill(office, YEAR, {"first": "2027-12-27", "last": "2027-12-31", "name": "between the years"})
    names = list(ClosedDay.objects.values_list("name", flat=True))
    assert names == ["bank holiday", *["between the years"] * 4]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"first": ""}, "required"),
        ({"first": "31/02/2027"}, "valid date"),
        ({"first": "2027-02-30"}, "valid date"),
        ({"first": "1999-12-31"}, "allowed is 2000 to 2100"),
        ({"first": "2027-08-08", "last": "2027-08-01"}, "the last day comes after the first"),
        ({"first": "2027-01-01", "last": "2027-12-31"}, "at most 92 days later"),
        ({"first": "2027-01-01"}, "closed on those days already"),
        ({"first": "2027-08-07", "last": "2027-08-08"}, "nobody works on them"),
        ({"first": "2027-03-01", "name": "n" * 61}, "at most 60"),
    ],
)
def test_days_that_cannot_be_closed_are_explained_and_stay_typed(office, typed, said):
    days((date(2027, 1, 1), "New Year"))
    answer = fill(office, YEAR, typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert f'value="{typed["first"]}"' in page or not typed["first"]
    assert ClosedDay.objects.count() == 1


def test_a_closed_day_is_taken_off_with_and_without_htmx(office):
    first, second = days((date(2027, 1, 1), "New Year"), (date(2027, 12, 24), "Eve"))
    answer = office.post(reverse("planning:reopen", args=[first.pk]))
    assert answer["Location"] == YEAR
    answer = office.post(reverse("planning:reopen", args=[second.pk]), headers=HTMX)
    assert answer.content.decode().startswith('<div id="closed">')
    assert "like any other" in answer["HX-Trigger"]
    assert not ClosedDay.objects.exists()
    assert office.post(reverse("planning:reopen", args=[second.pk])).status_code == 404


# --- the year ---


def test_the_page_opens_at_this_year(office):
    with clock.at(datetime(2026, 11, 25, 12, tzinfo=UTC)):
        assert office.get("/set-up/year/").context["sheet"].year == 2026


@pytest.mark.parametrize("year", ["1999", "2101", "0", "-1", "two", "20277", "٢٠٢٧", "2027.0"])
def test_a_year_that_is_none_is_404(office, year):
    assert office.get(f"/set-up/year/?year={year}").status_code == 404


def test_the_working_weeks_of_the_year_are_counted_by_hand():
    """ISO year 2027 has 52 weeks (ISO 8601); ten closed weekdays are two weeks of five days."""
    assert year_sheet(2027).weeks == pytest.approx(52)
    days(*((date(2027, 8, day), "summer") for day in (2, 3, 4, 5, 6, 9, 10, 11, 12, 13)))
    AnnualTarget.objects.create(year=2027, instruments=75)
    sheet = year_sheet(2027)
    assert sheet.weeks == pytest.approx(50)
    assert sheet.a_week == pytest.approx(1.5)


def test_a_closed_new_years_day_counts_in_the_iso_year_it_lies_in():
    """Friday 1 January 2027 lies in week 53 of 2026 (ISO 8601)."""
    days((date(2027, 1, 1), "New Year"))
    assert year_sheet(2026).weeks == pytest.approx(52.8)
    assert year_sheet(2027).weeks == pytest.approx(52)


def test_the_weekdays_are_those_on_which_somebody_works():
    assert weekdays_worked() == (0, 1, 2, 3, 4)
    finn = cast.finisher()
    WorkingDay.objects.bulk_create(WorkingDay(person=finn, weekday=day, hours=8) for day in (1, 2, 5))
    WorkingDay.objects.create(person=finn, weekday=6, hours=0)
    assert weekdays_worked() == (1, 2, 5)


def test_the_page_asks_a_fixed_number_of_questions(office, django_assert_num_queries):
    days(*((date(2027, 6, day), "") for day in range(1, 20)))
    with django_assert_num_queries(7):  # session, person, shop, target, closed twice, weekdays
        office.get(YEAR)
