"""Operations: found, changed, tied to each other, retired; work laid out already is left alone."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from shopflow.catalogue.models import Operation, Rest, Route, Stage
from shopflow.workshop.models import Task
from shopflow.workshop.services import layout
from tests import cast
from tests.page_forms import fill, form_with

pytestmark = pytest.mark.django_db
LIST = "/set-up/operations/"


def page_of(code):
    return reverse("catalogue:operation", args=[code])


def op(code):
    return Operation.objects.get(code=code)


def change(office, code, **typed):
    return fill(office, page_of(code), typed, has="name")


# --- the list ---


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("?search=pinblock", {"block-mend", "block-replace"}),
        ("?search=new+hammers", {"hammers-hang", "hammers-back", "springs-renew"}),
        ("?search=TENSION-DOWN", {"tension-down"}),
        ("?department=plating&search=screws", {"screws-restore"}),
        ("?search=no+such+work", set()),
        ("?department=nowhere", set()),
        ("?search=%00'%22%3B--", set()),
    ],
)
def test_operations_are_found_by_words_and_department(office, trade, asked, found):
    answer = office.get(LIST + asked)
    assert answer.status_code == 200
    assert {one.code for one in answer.context["page"]} == found


def test_the_list_of_a_department_holds_all_of_it(office, trade):
    answer = office.get(LIST + "?department=action")
    assert answer.context["page"].paginator.count == 28


def test_all_operations_come_in_pages_that_keep_the_question(office, trade):
    page = office.get(LIST + "?show=retired").content.decode()
    assert "No operation like that" in page
    first = office.get(LIST + "?search=e")
    assert first.context["page"].has_next()
    assert 'href="?search=e&amp;page=2"' in first.content.decode()


def test_htmx_gets_the_list_alone_but_a_step_back_gets_the_page(office, trade):
    alone = office.get(LIST, headers={"HX-Request": "true"}).content.decode()
    assert alone.lstrip().startswith('<div id="operations">')
    back = {"HX-Request": "true", "HX-History-Restore-Request": "true"}
    assert "<!doctype html>" in office.get(LIST, headers=back).content.decode()


# --- changing one ---


def test_a_page_sent_back_untouched_changes_nothing(office, trade):
    before = Operation.objects.filter(code="hammers-hang").values().get()
    ties = [set(getattr(op("hammers-hang"), name).all()) for name in ("stages", "cautions")]
    assert change(office, "hammers-hang").status_code == 302
    assert Operation.objects.filter(code="hammers-hang").values().get() == before
    assert [set(getattr(op("hammers-hang"), name).all()) for name in ("stages", "cautions")] == ties


def test_new_hours_say_whose_they_are_and_leave_work_under_way_alone(office, trade, maud):
    task = cast.task(op("strip"), on=cast.instrument(by=maud, kind="grand"), by=maud)
    change(office, "strip", grand_low="9", grand_likely="15.5", grand_high="30")
    task.refresh_from_db()
    assert op("strip").hours_for("grand") == (Decimal(9), Decimal("15.5"), Decimal(30))
    assert op("strip").hours_basis.startswith("the shop’s own figure, set by Maud Ferrier")
    assert task.hours_likely == 14


def test_the_basis_stays_when_only_words_change(office, trade):
    change(office, "strip", name="Take the finish off")
    assert op("strip").name == "Take the finish off"
    assert "no source" in op("strip").hours_basis


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"grand_low": "20"}, "Hours for grands: got 20 / 14.0 / 24.0"),
        ({"upright_likely": "99"}, "Hours for uprights"),
        ({"upright_low": "0"}, "greater than or equal to 0.1"),
        ({"upright_low": "-3"}, "greater than or equal to 0.1"),
        ({"upright_high": "1001"}, "less than or equal to 1000"),
        ({"upright_low": "NaN"}, "Enter a number"),
        ({"upright_low": "two"}, "Enter a number"),
        ({"upright_low": "1.25"}, "no more than 1 decimal place"),
        ({"upright_low": ""}, "Give all three hours for uprights"),
        ({"name": ""}, "required"),
        ({"what": "w" * 401}, "at most 400"),
        ({"materials": "M9"}, "not one of the available choices"),
        ({"rest": "999999"}, "not one of the available choices"),
        ({"stages": []}, "required"),
        ({"cautions": ["x"]}, "is not a valid value"),
    ],
)
def test_what_cannot_be_is_explained_and_nothing_is_changed(office, trade, typed, said):
    before = Operation.objects.filter(code="strip").values().get()
    answer = change(office, "strip", **typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert Operation.objects.filter(code="strip").values().get() == before
    (name, value), *_ = typed.items()
    if isinstance(value, str) and name not in {"materials", "rest"}:
        assert form_with(page, "name")[1][name] == [value]


def test_an_operation_done_on_neither_kind_is_refused(office, trade):
    none = {f"{side}_{step}": "" for side in ("upright", "grand") for step in ("low", "likely", "high")}
    answer = change(office, "strip", **none)
    assert answer.status_code == 422
    assert "an upright, a grand or both" in answer.content.decode()


def test_the_way_begins_on_a_rack_and_ends_signed(office, trade):
    only = [str(Stage.objects.get(department__code="refinishing", code="stripped").pk)]
    answer = change(office, "strip", stages=only)
    assert answer.status_code == 422
    assert "begins on a rack and ends signed" in answer.content.decode()


def test_a_stage_of_another_department_is_no_choice(office, trade):
    foreign = str(Stage.objects.get(department__code="plating", code="ground").pk)
    here = [str(pk) for pk in op("strip").stages.values_list("pk", flat=True)]
    assert change(office, "strip", stages=[*here, foreign]).status_code == 422


def test_a_resting_stage_wants_its_rest(office, trade):
    resting = str(Stage.objects.get(department__code="refinishing", code="hardening").pk)
    stages = [str(pk) for pk in op("strip").stages.values_list("pk", flat=True)] + [resting]
    answer = change(office, "strip", stages=stages)
    assert answer.status_code == 422
    assert "“hardening” is a resting stage" in answer.content.decode()
    rest = str(Rest.objects.get(code="filler").pk)
    assert change(office, "strip", stages=stages, rest=rest).status_code == 302
    assert [s.code for s in layout.path_of(op("strip"))] == ["rack", "stripped", "hardening", "signed"]


def test_a_retired_stage_stays_on_the_way_so_that_it_can_come_back(office, trade):
    stripped = Stage.objects.get(department__code="refinishing", code="stripped")
    office.post(reverse("catalogue:stage-button", args=[stripped.pk, "retire"]))
    change(office, "strip", name="Take the finish off")
    office.post(reverse("catalogue:stage-button", args=[stripped.pk, "bring-back"]))
    assert [s.code for s in layout.path_of(op("strip"))] == ["rack", "stripped", "signed"]


def test_the_second_of_two_who_change_it_sees_both_versions(office, trade):
    _, fields = form_with(office.get(page_of("strip")).content.decode(), "name")
    change(office, "strip", grand_high="30", rest=str(Rest.objects.get(code="pva").pk))
    answer = office.post(page_of("strip"), fields | {"name": ["Stripping"]})
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "now: 30.0" in page
    assert "now: White glue" in page
    assert "you typed: Stripping" in page
    assert op("strip").name == "Strip the old finish"


# --- new, retired ---


def test_a_new_operation_gets_a_code_of_its_own_and_a_way(office, trade):
    url = reverse("catalogue:new-operation", args=["plating"])
    typed = {"name": "Strip", "grand_low": "1", "grand_likely": "2", "grand_high": "3"}
    assert fill(office, url, typed).status_code == 302
    made = op("strip-2")
    assert (made.department.code, made.hours_for("upright")) == ("plating", None)
    assert [stage.kind for stage in layout.path_of(made)] == ["racked", "signed"]


def test_a_name_without_plain_letters_still_gets_a_code(office, trade):
    url = reverse("catalogue:new-operation", args=["plating"])
    typed = {"name": "鍍金", "grand_low": "1", "grand_likely": "2", "grand_high": "3"}
    fill(office, url, typed)
    assert op("operation").name == "鍍金"


def test_markup_in_a_name_is_shown_as_it_was_typed(office, trade):
    change(office, "strip", name='<script>alert("x")</script>')
    page = office.get(LIST + "?search=script").content.decode()
    assert "&lt;script&gt;alert(" in page
    assert "<script>alert" not in page


def test_a_retired_operation_is_left_out_of_routes_while_its_tasks_go_on(office, trade, maud):
    piano = cast.instrument(by=maud, kind="grand")
    layout.start_route(instrument=piano, route=Route.objects.get(code="D"), by=maud)
    office.post(reverse("catalogue:operation-button", args=["stain-fill", "retire"]))
    assert Task.objects.in_the_job().filter(instrument=piano, operation__code="stain-fill").exists()
    later = cast.instrument(by=maud, kind="grand")
    tasks = layout.start_route(instrument=later, route=Route.objects.get(code="D"), by=maud)
    assert "stain-fill" not in {task.operation.code for task in tasks}
    assert "stain-fill" in {one.code for one in office.get(LIST + "?show=retired").context["page"]}
    office.post(reverse("catalogue:operation-button", args=["stain-fill", "bring-back"]))
    assert op("stain-fill").retired_at is None


def test_the_pages_ask_a_fixed_number_of_questions(office, trade, django_assert_num_queries):
    with django_assert_num_queries(6):  # session, person, shop, count, list, departments
        office.get(LIST)
    with django_assert_num_queries(14):
        office.get(page_of("final-check"))
    with django_assert_num_queries(14):
        office.get(page_of("receive"))
