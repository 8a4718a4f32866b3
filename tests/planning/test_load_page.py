"""The Load's pages: who may look, what a cell opens, asking for a plan and stopping it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from shopflow.common import clock, job_runs
from shopflow.common.models import Job
from shopflow.planning import asked, background
from shopflow.planning.models import Plan
from tests import cast

from .crew_cast import MONDAY, hand, line, plan

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}
LOAD = "/load/"


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


CELL = "/load/refinishing/2026-W49/"


@pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
@pytest.mark.parametrize("url", [LOAD, CELL, "/load/plan/progress/"])
def test_strangers_and_bench_hands_are_turned_away(client, who, url):
    client.force_login(who())
    assert client.get(url).status_code == 403


def test_nobody_but_the_office_has_the_shop_planned(client):
    client.force_login(cast.finisher())
    assert client.post("/load/plan/").status_code == 403
    assert client.post("/load/plan/stop/").status_code == 403
    assert not Job.objects.exists()


def test_without_a_plan_the_page_says_what_to_do(office, task):
    page = office.get(LOAD).content.decode()
    assert "There is no plan yet" in page
    assert "Plan anew" in page
    assert "<b>Starving:</b> Refinishing" in page
    assert office.get(CELL).status_code == 404


def test_the_page_says_from_which_plan_and_how_much_moved_since(office, task):
    made = plan(last_move=0)
    line(made, task, MONDAY, MONDAY + timedelta(hours=8), 4)
    cast.send(task, "stripped", by=cast.finisher("Greta Lunt"))
    page = office.get(LOAD).content.decode()
    assert "Mon 30 Nov, 08:00" in page
    assert "made by Maud Ferrier" in page
    assert "1 move since." in page


def test_a_cell_opens_the_tasks_behind_it_as_a_page_and_as_a_piece(office, task):
    line(plan(), task, MONDAY, MONDAY + timedelta(hours=8), 4)
    assert f'href="{CELL}"' in office.get(LOAD).content.decode()
    whole, piece = office.get(CELL), office.get(CELL, headers=HTMX)
    assert "<html" in whole.content.decode()
    assert "<html" not in piece.content.decode()
    for answer in (whole, piece):
        assert reverse("workshop:task", args=[task.pk]) in answer.content.decode()


@pytest.mark.parametrize("week", ["2026-W54", "2026-49", "W49", "soon", "2026-W48", "2027-W20"])
def test_a_week_that_is_none_is_404(office, task, week):
    plan()
    assert office.get(f"/load/refinishing/{week}/").status_code == 404


def test_a_plan_is_asked_for_once_and_makes_the_page(office, task):
    for _ in range(2):
        assert office.post("/load/plan/").status_code == 302
    (job,) = Job.objects.all()
    assert (job.by_name, job.args["publish"]) == ("Maud Ferrier", True)
    assert "The shop will be planned." in office.get(LOAD).content.decode()
    Job.objects.update(args=job.args | {"seconds": 0.0})
    job_runs.run(job.pk)
    made = Plan.objects.get(state=Plan.State.PUBLISHED)
    assert made.made_by == "Maud Ferrier"
    assert [row.task for row in made.lines.all()] == [task] * 2
    assert "made by Maud Ferrier" in office.get(LOAD).content.decode()


def test_the_progress_is_polled_and_the_end_is_told(office, task):
    office.post("/load/plan/", headers=HTMX)
    Job.objects.update(state=Job.State.RUNNING, note="Best so far: 3 days late in all.", done=5, total=10)
    shown = office.get("/load/plan/progress/?plan=0", headers=HTMX)
    assert "Best so far: 3 days" in shown.content.decode()
    assert 'hx-trigger="every 1s"' in shown.content.decode()
    assert "HX-Trigger" not in shown.headers
    Job.objects.update(state=Job.State.DONE, finished_at=MONDAY)
    plan()
    over = office.get("/load/plan/progress/?plan=0", headers=HTMX)
    assert "plan-made" in over.headers["HX-Trigger"]
    assert "every 1s" not in over.content.decode()


def test_a_plan_that_is_looked_for_is_asked_to_stop(office, task):
    office.post("/load/plan/")
    Job.objects.update(state=Job.State.RUNNING)
    assert "Stopping" in office.post("/load/plan/stop/", headers=HTMX).content.decode()
    assert Job.objects.get().stop_asked


def test_why_there_is_no_plan_is_said_and_the_last_one_stays(office, task):
    good = plan()
    other = cast.operation("regulate", at=cast.department("action"))
    cast.task(other, on=task.instrument, by=cast.manager("Otto Vale"))
    office.post("/load/plan/")
    job_runs.run(Job.objects.get().pk)
    page = office.get(LOAD).content.decode()
    assert "Action has no hands in the coming weeks, and this needs it: 214." in page
    assert "The last plan stays." in page
    assert Plan.objects.get(state=Plan.State.PUBLISHED) == good


def test_the_night_plans_once_and_again_the_next_night(maud, task):
    background.look()
    background.look()
    assert Job.objects.count() == 1
    job = Job.objects.get()
    assert (job.by_name, job.args) == ("", {"publish": True})
    Job.objects.update(state=Job.State.DONE)
    with clock.at(MONDAY.replace(hour=23)):
        background.look()
    assert Job.objects.count() == 1
    with clock.at(MONDAY + timedelta(days=1)):
        background.look()
    assert Job.objects.count() == 2


def test_an_empty_house_is_not_planned(maud):
    background.look()
    assert asked.latest() is None


def test_the_page_asks_as_many_questions_for_a_hundred_instruments(office, task, django_assert_num_queries):
    made = plan()
    line(made, task, MONDAY, MONDAY + timedelta(hours=8), 4)
    with django_assert_num_queries(22):
        office.get(LOAD)
    for piano in cast.crowd(100):
        line(made, piano.tasks.get(), MONDAY, MONDAY + timedelta(hours=8), 1)
    with django_assert_num_queries(22):
        office.get(LOAD)
