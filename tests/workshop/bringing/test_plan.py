"""What is wrong, what is asked and what is assumed, before anything is written."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopflow.catalogue.models import Operation
from shopflow.common import clock
from shopflow.customers.models import Customer
from shopflow.instruments.models import Instrument
from shopflow.workshop.services.bringing.columns import COLUMNS
from tests import cast

from .files import bring, faults, look, of, table, yes_to_all

pytestmark = pytest.mark.django_db
PIANO = {"number": "501", "kind": "grand"}


def question(plan, name):
    return next(one for one in plan.questions if one.name == name)


# --- columns ---


def test_missing_columns_are_named_with_all_that_are_known(maud):
    plan = look(b"maker,serial\nBexcombe,40117\n", maud)
    assert {(problem.line, problem.column) for problem in plan.problems} == {(1, "number"), (1, "kind")}
    assert all(column.name in plan.problems[0].allowed for column in COLUMNS)


def test_a_file_without_any_known_column_is_named_once(maud):
    plan = look(b"some,letter\nof,mine\n", maud)
    assert [(problem.line, problem.given) for problem in plan.problems] == [(1, "no known column name")]


def test_two_columns_of_one_meaning_are_named_both(maud):
    plan = look(b"number,kind,maker,Brand\n501,grand,Bexcombe,Thistledown\n", maud)
    assert [problem.given for problem in plan.problems] == ["“maker” and “Brand”"]


def test_unknown_columns_are_left_out_only_when_that_is_ticked(maud):
    data = b"number,kind,insured for,,empty one\n501,grand,900,x,\n"
    plan = look(data, maud)
    assert question(plan, "columns").details == ["insured for", "column 4, which has no name", "empty one"]
    assert not plan.is_ready
    assert not look(data, maud, {"columns": "on"}).is_ready
    assert look(data, maud, yes_to_all(plan)).is_ready


def test_a_cell_beyond_the_last_column_is_named_and_empty_ones_are_not(maud):
    plan = look(b"number,kind\n501,grand,,\n502,grand,,lost\n", maud)
    assert [(problem.line, problem.given) for problem in plan.problems] == [(3, "lost")]


# --- the first twenty ---


def test_twenty_problems_are_shown_and_the_rest_counted(maud):
    plan = look(table(*[f"{number},pianola" for number in range(501, 531)]), maud)
    assert [problem.line for problem in plan.first_problems] == list(range(2, 22))
    assert plan.more_problems == 10
    assert (plan.problems[0].given, plan.problems[0].allowed) == ("pianola", "upright or grand")


# --- one instrument on several rows ---


def test_what_rows_tell_differently_of_one_number_is_named_with_both_lines(maud):
    plan = look(of(PIANO | {"maker": "Bexcombe"}, PIANO | {"maker": "Thistledown"}), maud)
    (problem,) = plan.problems
    assert (problem.line, problem.column, problem.given) == (3, "maker", "Thistledown")
    assert "line 2" in problem.allowed


def test_the_same_told_in_two_ways_is_the_same(maud):
    rows = [
        PIANO | {"arrived_on": day, "task": task}
        for day, task in [("2024-09-01", "strip"), ("1.9.2024", "sand")]
    ]
    plan = look(of(*rows), maud)
    assert (faults(plan), len(plan.coming), plan.task_count) == ([], 1, 2)


def test_numbers_that_differ_only_in_capitals_are_not_taken_for_one(maud):
    assert faults(look(of({"number": "Q-1", "kind": "grand"}, {"number": "q-1", "kind": "grand"}), maud)) == [
        (3, "number")
    ]


def test_a_row_without_a_number_may_only_tell_of_a_task(maud):
    rows = [PIANO | {"task": "strip"}, {"task": "sand"}, {"task": "rub-out", "kind": "grand"}]
    assert faults(look(of(*rows), maud)) == [(4, "number")]


def test_a_row_that_says_nothing_new_is_read_once_and_said(maud):
    plan = look(of(PIANO, PIANO), maud)
    assert len(plan.coming) == 1
    assert any("Line 3 tells nothing" in note for note in plan.notes)


def test_a_kind_is_needed_once_for_each_number(maud):
    assert faults(look(of({"number": "501", "kind": ""}, {"number": "502", "kind": "grand"}), maud)) == [
        (2, "kind")
    ]


# --- tasks ---


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ({"task": "polish the moon"}, "task"),
        ({"task": "New bridle straps"}, "task"),  # not done on a grand
        ({"task": "strip", "department": "Action"}, "task"),
        ({"task": "own words", "department": "Nowhere"}, "department"),
        ({"task": "strip", "stage": "hardening"}, "stage"),
        ({"task": "strip", "stage": "signed"}, "stage"),
        ({"task": "strip", "stage": "stripped?"}, "stage"),
        ({"stage": "stripped"}, "stage"),
        ({"note": "left over"}, "note"),
        ({"task": "strip", "hours_likely": "two"}, "hours_likely"),
        ({"route": "Z"}, "route"),
        ({"route": "B"}, "route"),  # for uprights
        ({"customer_email": "a@post.example"}, "customer"),
        ({"arrived_on": "2999-01-01"}, "arrived_on"),
        ({"arrived_on": "30/02/2024"}, "arrived_on"),
    ],
)
def test_what_does_not_fit_the_shop_is_named(maud, row, column):
    assert faults(look(of(PIANO | row), maud)) == [(2, column)]


def test_a_task_nearly_named_is_asked_back(maud):
    (problem,) = look(of(PIANO | {"task": "Strip the old finnish"}), maud).problems
    assert "did you mean “Strip the old finish”?" in problem.allowed


def test_the_same_task_twice_is_named_with_the_first_line(maud):
    plan = look(of(PIANO | {"task": "strip"}, PIANO | {"task": "Strip the old finish"}), maud)
    assert faults(plan) == [(3, "task")]
    assert "line 2" in plan.problems[0].allowed


def test_a_retired_operation_is_not_laid_out_any_more(maud):
    Operation.objects.filter(code="strip").update(retired_at=clock.now())
    assert faults(look(of(PIANO | {"task": "strip"}), maud)) == [(2, "task")]


@pytest.mark.parametrize("said", ["Refinishing", "refinishing", "RF", "rf"])
def test_own_words_need_a_department_by_name_code_or_mark(maud, said):
    mark = Operation.objects.get(code="strip").department.mark
    plan = look(of(PIANO | {"task": "Make a fret", "department": mark if said == "RF" else said}), maud)
    if said == "rf":
        plan = look(of(PIANO | {"task": "Make a fret", "department": mark.lower()}), maud)
    assert plan.is_ready
    assert any("Make a fret" in note for note in plan.notes)


def test_a_route_lays_its_tasks_out_where_no_task_is_told_and_only_there(maud):
    alone = look(of(PIANO | {"route": "D"}), maud)
    beside = look(of(PIANO | {"route": "D", "task": "strip"}), maud)
    assert alone.task_count > 5
    assert (beside.task_count, beside.coming[0].route.code) == (1, "D")


# --- what has to be answered ---


def test_days_that_fit_both_orders_are_asked_and_read_as_answered(maud):
    data = of(
        PIANO | {"arrived_on": "03/04/2024"}, {"number": "502", "kind": "grand", "arrived_on": "05/06/2024"}
    )
    plan = look(data, maud)
    asked = question(plan, "order-arrived_on")
    assert [label for _, label in asked.choices] == [
        "3 April 2024: the day first",
        "4 March 2024: the month first",
    ]
    assert (plan.is_ready, plan.coming[0].arrived_on) == (False, None)
    for answer, day in [("day", "2024-04-03"), ("month", "2024-03-04")]:
        answered = look(data, maud, {"order-arrived_on": answer})
        assert (answered.is_ready, answered.coming[0].arrived_on.isoformat()) == (True, day)


def test_an_order_that_the_column_shows_is_said_not_asked(maud):
    rows = [
        {"number": str(n), "kind": "grand", "arrived_on": day}
        for n, day in [(1, "03/04/2024"), (2, "25/04/2024")]
    ]
    plan = look(of(*rows), maud)
    assert plan.is_ready
    assert any("with the day first, because of 25/04/2024" in note for note in plan.notes)


def test_a_day_that_breaks_the_order_of_its_column_is_named(maud):
    days = ["25/04/2024", "26/04/2024", "04/25/2024"]
    rows = [{"number": str(n), "kind": "grand", "arrived_on": day} for n, day in enumerate(days, 1)]
    assert faults(look(of(*rows), maud)) == [(4, "arrived_on")]


def test_a_number_that_is_known_stays_as_it_is_and_its_rows_are_left_out_only_by_a_tick(maud):
    cast.instrument(by=maud, number="Q-214", maker="Bexcombe", serial="1")
    data = of({"number": "q-214", "kind": "grand", "maker": "Thistledown"}, PIANO)
    plan = look(data, maud)
    assert question(plan, "known").details == ["line 2: Q-214"]
    assert not plan.is_ready
    ticked = look(data, maud, yes_to_all(plan))
    assert ([draft.number for draft in ticked.coming], ticked.is_ready) == (["501"], True)
    assert bring(data, maud, yes_to_all(plan)).said["left_out"] == 1
    assert Instrument.objects.get(number="Q-214").maker == "Bexcombe"


def test_a_tick_for_one_known_number_is_none_for_another_that_came_in_meanwhile(maud):
    cast.instrument(by=maud, number="214")
    data = of({"number": "214", "kind": "grand"}, PIANO)
    ticked = yes_to_all(look(data, maud))
    cast.instrument(by=maud, number="501", serial="9")
    assert not look(data, maud, ticked).is_ready


@pytest.mark.parametrize("spelt", ["4o117", " 4O 117", "40-117", "4OII7", "40117"])
def test_a_serial_that_is_the_same_but_for_its_spelling_is_asked_about(maud, spelt):
    cast.instrument(by=maud, number="214", serial="40117")
    data = of(PIANO | {"serial": spelt})
    plan = look(data, maud)
    asked = question(plan, "alike-2")
    assert "looks like instrument 214" in asked.words
    another, same = (value for value, _ in asked.choices)
    assert not plan.is_ready
    assert look(data, maud, {"alike-2": another}).is_ready
    assert look(data, maud, {"alike-2": same}).coming == []


def test_two_serials_alike_in_one_file_are_asked_about_once(maud):
    rows = [
        {"number": n, "kind": "grand", "serial": s} for n, s in [("1", "7OI"), ("2", "70 1"), ("3", "703")]
    ]
    plan = look(of(*rows), maud)
    assert [one.name for one in plan.questions] == ["alike-3"]
    assert "looks like instrument 1." in plan.questions[0].words
    assert not any(faults(plan))


def test_a_file_of_which_everything_is_left_out_brings_nothing(maud):
    cast.instrument(by=maud, number="501")
    data = of(PIANO)
    plan = look(data, maud, yes_to_all(look(data, maud)))
    assert (plan.coming, plan.is_ready) == ([], False)


# --- whose it is ---


def owners(*told):
    return of(*[{"number": str(n), "kind": "grand"} | one for n, one in enumerate(told, 601)])


def test_an_owner_of_several_instruments_is_written_once(maud):
    ada = {"customer": "Ada Lanyon", "customer_email": "ada@post.example"}
    bring(owners(ada, ada | {"customer": "ada lanyon"}, {"customer": "Ada Lanyon"}), maud)
    assert [(one.name, one.instruments.count()) for one in Customer.objects.all()] == [("Ada Lanyon", 3)]


def test_two_people_of_one_name_stay_two(maud):
    told = [{"customer": "Ada Lanyon", "customer_email": f"{who}@post.example"} for who in ("ada", "other")]
    bring(owners(*told), maud)
    assert Customer.objects.count() == 2


def test_a_known_customer_is_recognised_by_more_than_a_name_and_left_as_it_is(maud):
    known = Customer.objects.create(name="Ada Lanyon", email="ada@post.example", phone="")
    data = owners(
        {"customer": "Ada Lanyon", "customer_email": "ADA@post.example", "customer_phone": "0199"},
        {"customer": "Ada Lanyon", "customer_email": "someone@post.example"},
    )
    plan = look(data, maud)
    assert any("Known already" in note for note in plan.notes)
    bring(data, maud)
    known.refresh_from_db()
    assert (Customer.objects.count(), known.phone, known.instruments.count()) == (2, "", 1)


def test_a_bare_name_that_is_known_is_said_to_be_somebody_new(maud):
    Customer.objects.create(name="Ada Lanyon", email="ada@post.example")
    plan = look(owners({"customer": "Ada Lanyon"}), maud)
    assert any("by the name alone" in note for note in plan.notes)
    assert len(plan.owners.fresh) == 1


# --- what is said before ---


def test_what_was_assumed_is_said(maud):
    soon = clock.today() - timedelta(days=300)
    rows = [
        PIANO | {"task": "Make a fret", "department": "Refinishing"},
        {"number": "502", "kind": "grand", "arrived_on": f"{soon}", "promised_on": "2020-01-01"},
    ]
    notes = " ".join(look(of(*rows).replace(b"kind", b"type"), maud).notes)
    for said in (
        "“type” as kind",
        "today is written: 501",
        "before they came; is that right? 502",
        "count as 0 h",
    ):
        assert said in notes


def test_the_tasks_that_a_route_brings_are_said_beforehand(maud):
    notes = look(of(PIANO | {"route": "D"}, {"number": "502", "kind": "grand", "route": ""}), maud).notes
    assert [note for note in notes if "501 (D)" in note and "502" not in note]
