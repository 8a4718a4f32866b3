"""Routes: operations put on, taken off and moved; hours are those of the kind the route is for."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Operation, Route
from shopflow.catalogue.selectors.set_up import route_sheet
from shopflow.common import clock
from shopflow.workshop.services import layout
from tests import cast
from tests.page_forms import fill

pytestmark = pytest.mark.django_db
HTMX = {"HX-Request": "true"}


def route(code="G"):
    return Route.objects.get(code=code)


def page_of(code="G"):
    return reverse("catalogue:route", args=[code])


def codes(code="G"):
    return list(route(code).steps.values_list("operation__code", flat=True))


def step(office, code, button, **given):
    pk = route().steps.get(operation__code=code).pk
    return office.post(reverse("catalogue:step-button", args=[pk, button]), given)


def add(office, code, **kwargs):
    given = {"operation": Operation.objects.get(code=code).pk}
    return office.post(reverse("catalogue:new-step", args=["G"]), given, **kwargs)


def test_a_route_shows_the_sum_of_its_hours(trade):
    assert route_sheet(route()).total == (Decimal(18), Decimal(36), Decimal(63))


def test_an_operation_joins_at_the_end_and_counts(office, trade):
    assert add(office, "hinge-mend").status_code == 302
    assert codes()[-1] == "hinge-mend"
    assert route_sheet(route()).total[1] == Decimal(38)


def test_htmx_gets_the_steps_alone(office, trade):
    answer = add(office, "hinge-mend", headers=HTMX)
    assert answer.status_code == 200
    assert answer.content.decode().lstrip().startswith('<div id="steps">')
    assert "hinge" in answer["HX-Trigger"]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"operation": ""}, "Choose an operation"),
        ({"operation": "999999"}, "Choose an operation"),
        ({"operation": "strip"}, "Choose an operation"),
        ({}, "Choose an operation"),
    ],
)
def test_an_operation_that_is_not_there_is_explained(office, trade, given, said):
    before = codes()
    answer = office.post(reverse("catalogue:new-step", args=["G"]), given)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert codes() == before


def test_an_operation_is_on_a_route_once(office, trade):
    answer = add(office, "receive")
    assert answer.status_code == 422
    assert "is on this route already" in answer.content.decode()


def test_what_is_not_done_on_a_grand_cannot_join_a_grands_route(office, trade):
    answer = add(office, "straps-new")
    assert answer.status_code == 422
    assert "no hours for a grand" in answer.content.decode()


def test_steps_move_and_come_off(office, trade):
    assert step(office, "case-strip", "move", places="-1").status_code == 302
    assert codes()[:3] == ["receive", "case-strip", "survey"]
    assert step(office, "survey", "drop").status_code == 302
    assert "survey" not in codes()


def test_the_ends_of_a_route_move_no_further(office, trade):
    step(office, "receive", "move", places="-1")
    assert codes()[0] == "receive"


def test_what_a_route_still_lacks_is_said_with_its_reason(office, trade):
    step(office, "hw-inventory", "drop")
    page = office.get(page_of()).content.decode()
    assert "This route also needs" in page
    assert "“Count and lay out the hardware”: “" in page


def test_what_a_route_asks_for_in_vain_is_said(office, trade):
    rub = Operation.objects.get(code="clean-polish").pk
    office.post(reverse("catalogue:new-step", args=["D"]), {"operation": rub})
    page = office.get(page_of("D")).content.decode()
    assert "A rebuilder would object" in page
    assert "the old finish" in page


def test_what_was_retired_is_shown_as_left_out_and_not_counted(office, trade):
    Operation.objects.filter(code="casters").update(retired_at=clock.now())
    page = office.get(page_of()).content.decode()
    assert "left out: retired" in page
    assert route_sheet(route()).total[1] == Decimal(34)


def test_the_kind_decides_which_hours_count(office, trade):
    assert fill(office, page_of(), {"kind": "upright"}, has="name").status_code == 302
    assert route_sheet(route()).total == (Decimal(18), Decimal("31.5"), Decimal(58))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"name": ""}, "required"),
        ({"name": "full rebuild, grand"}, "There is a route"),
        ({"kind": "organ"}, "not one of the available choices"),
        ({"weeks_low": "12"}, "Weeks: got 12 / 6 / 10"),
        ({"weeks_low": ""}, "Give all three"),
        ({"weeks_low": "0"}, "greater than or equal to 1"),
        ({"weeks_high": "501"}, "less than or equal to 500"),
        ({"weeks_high": "some"}, "Enter a whole number"),
        ({"note": "n" * 601}, "at most 600"),
    ],
)
def test_what_cannot_be_is_explained(office, trade, typed, said):
    before = Route.objects.filter(code="G").values().get()
    answer = fill(office, page_of(), typed, has="kind" if "kind" not in typed else "name")
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert Route.objects.filter(code="G").values().get() == before


def test_a_new_route_lays_out_work(office, trade, maud):
    answer = fill(
        office, reverse("catalogue:new-route"), {"name": "Look and tell", "kind": "upright", "note": ""}
    )
    made = Route.objects.get(name="Look and tell")
    assert answer["Location"] == page_of(made.code)
    for code in ("receive", "survey"):
        given = {"operation": Operation.objects.get(code=code).pk}
        office.post(reverse("catalogue:new-step", args=[made.code]), given)
    tasks = layout.start_route(instrument=cast.instrument(by=maud), route=made, by=maud)
    codes = [task.operation.code for task in tasks]
    assert codes[:2] == ["receive", "survey"]
    assert {*codes[2:]} == {"final-check", "deliver", "handover"}


def test_a_route_is_retired_and_comes_back(office, trade):
    office.post(reverse("catalogue:route-button", args=["G", "retire"]))
    assert route() not in Route.objects.in_use()
    office.post(reverse("catalogue:route-button", args=["G", "bring-back"]))
    assert route() in Route.objects.in_use()


def test_the_second_of_two_who_change_a_route_sees_both_versions(office, trade):
    seen = office.get(page_of()).context["form"].fingerprint
    fill(office, page_of(), {"name": "Metal only"}, has="kind")
    late = {"name": "Brass only", "kind": "grand", "note": "", "seen": seen}
    answer = office.post(page_of(), late)
    assert answer.status_code == 409
    assert "now: Metal only" in answer.content.decode()
    assert route().name == "Metal only"


def test_the_pages_ask_a_fixed_number_of_questions(office, trade, django_assert_num_queries):
    with django_assert_num_queries(7):  # session, person, shop; routes, steps, operations, departments
        office.get(reverse("catalogue:routes"))
    knowledge("grand")
    for code in ("A", "G"):
        with django_assert_num_queries(7):  # session, person, shop; route, steps, mark, what could join
            office.get(page_of(code))
