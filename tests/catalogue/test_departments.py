"""Departments and their stages, changed without a programmer, while work stands in them."""

from __future__ import annotations

import pytest
from django.urls import reverse

from shopflow.catalogue import selectors
from shopflow.catalogue.models import Caution, Department, Operation, Route, Stage
from shopflow.common import pulse
from shopflow.workshop.models import Task
from shopflow.workshop.services import layout
from tests import cast
from tests.page_forms import fill, form_with

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


def of(code):
    return Department.objects.get(code=code)


def stage(department, code):
    return Stage.objects.get(department__code=department, code=code)


def button(kind, key, name):
    return reverse(f"catalogue:{kind}-button", args=[key, name])


def names(department="refinishing"):
    return list(of(department).stages.in_use().values_list("code", flat=True))


@pytest.fixture
def strip(trade, maud):
    """A grand on its way, with its stripping on the bench."""
    piano = cast.instrument(by=maud, kind="grand")
    layout.start_route(instrument=piano, route=Route.objects.get(code="D"), by=maud)
    return Task.objects.get(operation__code="strip")


# --- departments ---


def test_a_department_is_added_with_a_rack_and_a_signature(office, trade):
    before = pulse.current()
    answer = fill(
        office,
        reverse("catalogue:new-department"),
        {"name": "Case joinery", "mark": "cj", "material": "spruce"},
    )
    made = of("case-joinery")
    assert answer.status_code == 302
    assert (made.name, made.mark, made.material) == ("Case joinery", "CJ", "spruce")
    assert list(made.stages.values_list("kind", flat=True)) == ["racked", "signed"]
    assert Department.objects.last() == made
    assert pulse.current() > before


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"mark": "rf"}, "“RF” is the mark of Refinishing"),
        ({"mark": "4x"}, "is not a mark"),
        ({"mark": "A"}, "is not a mark"),
        ({"mark": "ABC"}, "at most 2"),
        ({"name": "stringing"}, "There is a department “Stringing” already"),
        ({"name": ""}, "required"),
        ({"name": "n" * 41}, "at most 40"),
        ({"material": "plastic"}, "not one of the available choices"),
    ],
)
def test_a_department_that_cannot_be_is_explained_and_what_was_typed_stays(office, trade, typed, said):
    given = {"name": "Case joinery", "mark": "CJ", "material": "spruce"} | typed
    answer = fill(office, reverse("catalogue:new-department"), given)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    kept = form_with(page, "mark")[1]
    assert {name: kept[name][0] for name in ("name", "mark")} == {n: given[n] for n in ("name", "mark")}
    assert Department.objects.count() == 6


def test_a_department_is_renamed_and_keeps_its_own_mark(office, trade):
    url = reverse("catalogue:department", args=["plating"])
    assert fill(office, url, {"name": "Metalwork"}, has="mark").status_code == 302
    assert (of("plating").name, of("plating").mark) == ("Metalwork", "PL")


def test_the_second_of_two_who_rename_it_sees_both_versions(office, trade):
    url = reverse("catalogue:department", args=["plating"])
    seen = office.get(url).context["form"].fingerprint
    fill(office, url, {"name": "Metalwork"}, has="mark")
    late = {"name": "Brass room", "mark": "PL", "material": "brass", "rate": "34", "seen": seen}
    answer = office.post(url, late)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "now: Metalwork" in page
    assert "you typed: Brass room" in page
    assert of("plating").name == "Metalwork"
    assert office.post(url, late | {"seen": answer.context["form"].fingerprint}).status_code == 302
    assert of("plating").name == "Brass room"


def test_departments_change_places_by_plain_buttons(office, trade):
    answer = office.post(button("department", "final", "move"), {"places": "-1"})
    assert answer.status_code == 302
    assert list(Department.objects.values_list("code", flat=True))[-2:] == ["final", "stringing"]
    shown = office.get(reverse("catalogue:departments")).context["listed"].in_use
    assert [placed.row.mark for placed in shown] == ["RF", "PL", "AC", "SB", "FB", "ST"]
    assert [placed.rises for placed in shown] == [False, *[True] * 5]
    assert [placed.sinks for placed in shown] == [*[True] * 5, False]


def test_htmx_gets_the_list_alone_and_a_word_for_the_status_line(office, trade):
    answer = office.post(button("department", "final", "move"), {"places": "-1"}, headers=HTMX)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert page.lstrip().startswith('<div id="departments">')
    assert "has moved" in answer["HX-Trigger"]


@pytest.mark.parametrize("places", ["", "7", "up", "-1; drop"])
def test_a_place_that_is_neither_up_nor_down_is_refused(office, trade, places):
    before = list(Department.objects.values_list("code", flat=True))
    answer = office.post(button("department", "final", "move"), {"places": places})
    assert answer.status_code == 422
    assert "up or down" in answer.content.decode()
    assert list(Department.objects.values_list("code", flat=True)) == before


def test_a_retired_department_keeps_its_work_in_sight_until_it_is_done(office, strip):
    page = office.get(reverse("catalogue:departments")).content.decode()
    assert "open tasks stay here" in page
    office.post(button("department", "refinishing", "retire"))
    assert of("refinishing").retired_at is not None
    assert of("refinishing") in selectors.departments()
    Task.objects.filter(department__code="refinishing").update(stage=stage("refinishing", "signed"))
    assert of("refinishing") not in selectors.departments()
    office.post(button("department", "refinishing", "bring-back"))
    assert of("refinishing").retired_at is None


def test_no_new_work_begins_in_a_retired_department(office, trade, maud):
    office.post(button("department", "plating", "retire"))
    piano = cast.instrument(by=maud, kind="grand")
    tasks = layout.start_route(instrument=piano, route=Route.objects.get(code="G"), by=maud)
    assert "plating" not in {task.department.code for task in tasks}
    assert len(tasks) == 7


def test_the_last_department_cannot_be_retired(office, trade):
    for code in ("refinishing", "plating", "action", "soundboard", "stringing"):
        office.post(button("department", code, "retire"))
    answer = office.post(button("department", "final", "retire"))
    assert answer.status_code == 422
    assert "a shop needs one" in answer.content.decode()
    assert of("final").retired_at is None


def test_a_mark_given_away_meanwhile_keeps_a_department_from_coming_back(office, trade):
    office.post(button("department", "plating", "retire"))
    fill(office, reverse("catalogue:new-department"), {"name": "Polish", "mark": "PL", "material": "brass"})
    answer = office.post(button("department", "plating", "bring-back"))
    assert answer.status_code == 422
    assert "is the mark of Polish" in answer.content.decode()


# --- stages ---


def test_a_new_stage_stands_before_the_signature_and_on_the_way_of_all_if_wished(office, trade):
    url = reverse("catalogue:new-stage", args=["refinishing"])
    answer = fill(
        office, url, {"name": "Looked over", "kind": "proving", "needs_photo": "on", "for_all": "on"}
    )
    made = stage("refinishing", "looked-over")
    assert answer.status_code == 302
    assert names()[-2:] == ["looked-over", "signed"]
    assert made.needs_photo
    assert [s.code for s in layout.path_of(Operation.objects.get(code="strip"))] == [
        "rack",
        "stripped",
        "looked-over",
        "signed",
    ]


def test_a_stage_asks_for_a_reading_and_bears_cautions_of_its_own(office, trade):
    tanks = stage("plating", "in-the-tanks")
    assert [one.code for one in tanks.cautions.all()] == ["plating-baths"]
    lead = Caution.objects.get(code="lead")
    url = reverse("catalogue:stage", args=[tanks.pk])
    answer = fill(office, url, {"needs_reading": "on", "cautions": [lead.pk]}, has="kind")
    assert answer.status_code == 302
    tanks.refresh_from_db()
    assert tanks.needs_reading
    assert list(tanks.cautions.all()) == [lead]
    page = office.get(reverse("catalogue:department", args=["plating"])).content.decode()
    assert "a reading" in page


def test_work_laid_out_already_keeps_its_way_when_a_stage_is_added(office, strip):
    path = list(strip.path)
    url = reverse("catalogue:new-stage", args=["refinishing"])
    fill(office, url, {"name": "Looked over", "kind": "benched", "for_all": "on"})
    strip.refresh_from_db()
    assert strip.path == path


def test_a_stage_is_renamed_for_everybody_at_once(office, strip):
    url = reverse("catalogue:stage", args=[stage("refinishing", "stripped").pk])
    assert fill(office, url, {"name": "down to the wood"}, has="kind").status_code == 302
    assert stage("refinishing", "stripped").name == "down to the wood"


def test_the_kind_of_a_stage_that_work_passes_cannot_change(office, strip):
    url = reverse("catalogue:stage", args=[stage("refinishing", "stripped").pk])
    answer = fill(office, url, {"kind": "resting"}, has="name")
    assert answer.status_code == 422
    assert "its kind stays “benched”" in answer.content.decode()
    assert stage("refinishing", "stripped").kind == "benched"


def test_the_kind_of_an_unused_stage_may_change(office, trade):
    url = reverse("catalogue:stage", args=[stage("plating", "trial-fit").pk])
    assert fill(office, url, {"kind": "benched"}, has="name").status_code == 302
    assert stage("plating", "trial-fit").kind == "benched"


def test_the_only_rack_cannot_become_something_else(office, trade):
    url = reverse("catalogue:stage", args=[stage("plating", "rack").pk])
    answer = fill(office, url, {"kind": "benched"}, has="name")
    assert answer.status_code == 422
    assert "the only rack of Plating" in answer.content.decode()


def test_stages_change_places_between_rack_and_signature(office, trade):
    office.post(button("stage", stage("refinishing", "mended").pk, "move"), {"places": "-1"})
    assert names()[:3] == ["rack", "mended", "stripped"]


@pytest.mark.parametrize(("code", "places"), [("stripped", "-1"), ("proving", "1"), ("signed", "-1")])
def test_rack_and_signature_keep_their_ends(office, trade, code, places):
    before = names()
    answer = office.post(button("stage", stage("refinishing", code).pk, "move"), {"places": places})
    assert answer.status_code == 422
    assert "stay first and last" in answer.content.decode()
    assert names() == before


def test_nothing_is_lost_when_a_stage_is_retired_while_a_task_stands_in_it(office, trade, maud):
    finn = cast.finisher(home=of("refinishing"))
    scrape = cast.operation("scrape", at=of("refinishing"), state={"at": ["loose"], "work": "house"})
    scrape.stages.set(stage("refinishing", code) for code in ("rack", "stripped", "signed"))
    task = cast.task(scrape, on=cast.instrument(by=maud), by=maud)
    cast.walk(task, by=finn, until="stripped")
    page = office.get(reverse("catalogue:department", args=["refinishing"])).content.decode()
    assert "1 task stands here now: nothing is lost" in page
    office.post(button("stage", stage("refinishing", "stripped").pk, "retire"))
    task.refresh_from_db()
    assert task.stage.code == "stripped"
    assert cast.send(task, "signed", by=finn).status == 200
    fresh = cast.task(scrape, on=cast.instrument(by=maud), by=maud)
    assert stage("refinishing", "stripped").pk not in fresh.path


@pytest.mark.parametrize(("code", "said"), [("rack", "the only rack"), ("signed", "the only signed stage")])
def test_the_only_rack_and_the_only_signature_cannot_be_retired(office, trade, code, said):
    answer = office.post(button("stage", stage("plating", code).pk, "retire"))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert stage("plating", code).retired_at is None


def test_a_rack_that_operations_begin_at_cannot_be_retired_even_beside_another(office, trade):
    fill(office, reverse("catalogue:new-stage", args=["plating"]), {"name": "Second rack", "kind": "racked"})
    answer = office.post(button("stage", stage("plating", "rack").pk, "retire"))
    assert answer.status_code == 422
    assert "have no other rack" in answer.content.decode()


def test_a_retired_stage_comes_back_to_its_place(office, trade):
    pk = stage("refinishing", "mended").pk
    office.post(button("stage", pk, "retire"))
    assert "mended" not in names()
    office.post(button("stage", pk, "bring-back"))
    assert "mended" in names()
    assert [names()[0], names()[-1]] == ["rack", "signed"]


def test_refused_htmx_buttons_bring_the_list_with_the_reason(office, trade):
    answer = office.post(button("stage", stage("plating", "rack").pk, "retire"), headers=HTMX)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert page.lstrip().startswith('<div id="stages">')
    assert "the only rack" in page


# --- how much is asked of the database ---


def test_the_pages_ask_a_fixed_number_of_questions(office, strip, django_assert_num_queries):
    with django_assert_num_queries(4):  # session, person, shop, the list
        office.get(reverse("catalogue:departments"))
    with django_assert_num_queries(5):  # and the department
        office.get(reverse("catalogue:department", args=["refinishing"]))
