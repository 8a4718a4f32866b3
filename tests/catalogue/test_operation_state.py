"""What an operation needs and leaves, said in Set-up: checked against everything else before it is kept."""

from __future__ import annotations

import pytest
from django.urls import reverse

from shopflow.catalogue.forms.state import StateForm
from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import Operation, StateLine, StepLine
from shopflow.catalogue.selectors.way import way_of
from tests import cast
from tests.page_forms import fill, form_with

pytestmark = pytest.mark.django_db


def op(code):
    return Operation.objects.get(code=code)


def page_of(code):
    return reverse("catalogue:operation-state", args=[code])


def change(office, code, **typed):
    return fill(
        office, page_of(code), {name.replace("__", "."): value for name, value in typed.items()}, has="work"
    )


def line_page(code):
    return reverse("catalogue:line", args=[StateLine.objects.get(code=code).pk])


def told(answer):
    return answer.content.decode().replace("&#x27;", "'").replace("&quot;", '"')


def plain(state):
    """Without what says nothing, and lists in any order."""
    rows = {name: sorted(given) if isinstance(given, list) else given for name, given in state.items()}
    return {name: given for name, given in rows.items() if given}


# --- who may ---


def test_a_stranger_neither_sees_nor_changes_what_work_needs(client, trade):
    client.force_login(cast.stranger())
    before = op("strip").state
    assert client.get(page_of("strip")).status_code == 403
    assert client.post(page_of("strip"), {"work": "repair"}).status_code == 403
    assert client.post(line_page("wire"), {"name": "rope"}).status_code == 403
    assert op("strip").state == before


# --- shown ---


def test_the_page_of_an_operation_shows_its_way_in_the_shops_words(office, trade):
    page = told(office.get(reverse("catalogue:operation", args=["string-treble"])))
    assert "needs at most the plain wire off" in page
    assert "leaves the plain wire on" in page
    assert "throws away the old wire" in page
    assert "Like all work on the piano itself, it needs the piano surveyed" in page
    assert '<svg class="way-line"' in page


def test_the_picture_goes_down_for_what_is_opened_and_up_for_what_is_left(trade):
    opened = {row.line.code: row for row in way_of(op("strings-off")).rows}["wire"]
    assert [arrow.x2 < arrow.x1 for arrow in opened.arrows if arrow.kind == "opens"] == [True]
    left = {row.line.code: row for row in way_of(op("plate-in")).rows}["plate"]
    assert [arrow.x2 > arrow.x1 for arrow in left.arrows] == [True]


@pytest.mark.parametrize(
    "code", ["string-treble", "damper-action", "clear-coats", "pitch-raise", "butts-knuckles"]
)
def test_a_page_sent_back_untouched_changes_nothing(office, trade, code):
    known = {kind: knowledge(kind).work(code) for kind in ("upright", "grand")}
    assert change(office, code).status_code == 302
    assert {kind: knowledge(kind).work(code) for kind in ("upright", "grand")} == known


def test_every_operation_of_the_trade_fits_into_the_form(trade):
    for operation in Operation.objects.all():
        initial = StateForm(operation=operation).initial
        form = StateForm(initial | {"seen": ""}, operation=operation)
        assert form.is_valid(), (operation.code, form.errors)
        assert plain(form.state) == plain(operation.state), operation.code


# --- changed ---


def test_what_is_said_here_is_what_jobs_follow(office, trade):
    answer = change(office, "trapwork", needs__action="at most out", anyway="on")
    assert answer.status_code == 302
    assert op("trapwork").state["needs"] == {"action": "at most out"}
    assert "action-out" in knowledge("grand").complete(["trapwork"]).operations


def test_routes_that_would_change_are_named_before_anything_is_kept(office, trade):
    answer = change(office, "casters", needs__action="at most out")
    page = told(answer)
    assert answer.status_code == 422
    assert "Route G would need" in page
    assert "“Action and keys out”" in page
    assert 'name="anyway"' in page
    assert "needs" not in op("casters").state
    assert change(office, "casters", needs__action="at most out", anyway="on").status_code == 302


def test_an_own_wish_puts_work_together_and_in_order(office, trade):
    assert (
        change(office, "casters", also=["hinge-mend"], after=["hinge-mend"], anyway="on").status_code == 302
    )
    known = knowledge("grand")
    assert "hinge-mend" in known.complete(["casters"]).operations
    ties = known.order(["casters", "hinge-mend"])
    assert [(tie.before, tie.after) for tie in ties] == [("hinge-mend", "casters")]


# --- what cannot be ---


def test_needs_that_can_never_be_met_are_refused_by_name(office, trade):
    answer = change(office, "plate-out", opens__plate="")
    assert answer.status_code == 422
    assert "This cannot be kept" in told(answer)
    assert "needs the plate out, and no operation brings that about" in told(answer)
    assert op("plate-out").state["opens"] == {"plate": "out"}


def test_two_that_each_need_what_the_other_spoils_are_refused_by_name(office, trade):
    change(office, "hinge-mend", spoils__plating="bare", anyway="on")
    change(office, "casters", needs__plating="at least plated", anyway="on")
    change(office, "casters", spoils__patch="bare", anyway="on")
    answer = change(office, "hinge-mend", needs__patch="at least finished", anyway="on")
    page = told(answer)
    assert answer.status_code == 422
    assert "“Mend hinges, lid pins and locks”" in page
    assert "“Mend or replace the casters”" in page


def test_a_circle_of_wishes_is_refused_with_its_members(office, trade):
    change(office, "casters", after=["hinge-mend"], anyway="on")
    change(office, "lyre-mend", after=["casters"], anyway="on")
    answer = change(office, "hinge-mend", after=["lyre-mend"], anyway="on")
    page = told(answer)
    assert answer.status_code == 422
    assert "wait for each other" in page
    for name in ("casters", "hinge-mend", "lyre-mend"):
        assert op(name).name in page
    assert "after" not in op("hinge-mend").state


def test_a_wish_against_what_the_state_says_is_refused_with_the_reason(office, trade):
    answer = change(office, "strip", after=["rub-out"], anyway="on")
    assert answer.status_code == 422
    assert "“Strip the old finish” cannot come after “Rub out”" in told(answer)


@pytest.mark.parametrize(
    "typed",
    [
        {"needs.wire": "at most flying"},
        {"needs.wire": "off"},
        {"opens.wire": "'; --"},
        {"work": "magic"},
        {"at_upright": ["moon"]},
        {"part.hammers": "eats"},
        {"after": ["no-such-work"]},
        {"step.keys": "jump"},
        {"instead": "x" * 21},
    ],
)
def test_what_is_no_choice_is_refused_and_nothing_is_changed(office, trade, typed):
    before = op("strip").state
    answer = fill(office, page_of("strip"), typed, has="work")
    assert answer.status_code == 422
    assert op("strip").state == before


def test_work_holds_at_least_one_part(office, trade):
    answer = fill(office, page_of("strip"), {"at_upright": [], "at_grand": []}, has="work")
    assert answer.status_code == 422
    assert "at least one part" in told(answer)


def test_the_second_of_two_who_change_it_sees_both_versions(office, trade):
    _, fields = form_with(office.get(page_of("casters")).content.decode(), "work")
    change(office, "casters", rest_holds="on")
    answer = office.post(page_of("casters"), fields | {"each": ["on"]})
    assert answer.status_code == 409
    assert "rest_holds" in op("casters").state
    assert "each" not in op("casters").state


def test_work_that_other_work_cannot_do_without_is_not_retired(office, trade):
    answer = office.post(reverse("catalogue:operation-button", args=["decal", "retire"]))
    assert answer.status_code == 422
    assert "the name on the fall" in told(answer)
    assert op("decal").retired_at is None


def test_new_work_is_safe_and_waits_to_be_looked_at(office, trade):
    url = reverse("catalogue:new-operation", args=["plating"])
    answer = fill(office, url, {"name": "Engrave", "grand_low": "1", "grand_likely": "2", "grand_high": "3"})
    assert answer["Location"] == page_of("engrave")
    assert op("engrave").state_to_look_at
    assert "1 operation to look at" in told(office.get(reverse("catalogue:set-up")))
    assert "nobody has said yet" in told(office.get(page_of("engrave")))
    change(office, "engrave", work="paper")
    assert not op("engrave").state_to_look_at
    assert op("engrave").state_note == ""


# --- lines and steps ---


def test_the_words_of_a_line_are_the_shops(office, trade):
    levels = "off = no wire on it\nslack = the wire slack\non = the wire at pitch"
    assert fill(office, line_page("wire"), {"levels": levels}, has="levels").status_code == 302
    reasons = knowledge("grand").complete(["bridge-repin"]).reasons["strings-off"]
    assert any("no wire on it" in reason for reason in reasons)


@pytest.mark.parametrize(
    ("levels", "said"),
    [
        ("off = off\non = on", "speaks of “slack”"),
        ("off = off\noff = off", "each once"),
        ("off = off", "two levels"),
        ("off\nslack\non", "level = how it is said"),
        ("", "required"),
        ("off = a\nslack = b\nup = c", "have to be among"),
    ],
)
def test_levels_that_cannot_be_are_explained_and_nothing_is_changed(office, trade, levels, said):
    answer = fill(office, line_page("wire"), {"levels": levels}, has="levels")
    assert answer.status_code == 422
    assert said in told(answer)
    assert StateLine.objects.get(code="wire").levels == ["off", "slack", "on"]


def test_steps_change_their_order_and_none_in_use_goes(office, trade):
    row = StepLine.objects.get(code="keys")
    url = reverse("catalogue:work-steps", args=[row.pk])
    assert fill(office, url, {"steps": "tops\nmend\nbushings\nease\nin"}, has="steps").status_code == 302
    assert knowledge("grand").order(["key-buttons", "keytops-new"])[0].before == "keytops-new"
    answer = fill(office, url, {"steps": "tops\nmend"}, has="steps")
    assert answer.status_code == 422
    assert "Change that first" in told(answer)


def test_a_catalogue_that_contradicts_itself_is_told_and_can_be_mended(office, trade):
    bad = op("plate-out").state | {"opens": {}}
    Operation.objects.filter(code="plate-out").update(state=bad)
    page = told(office.get(reverse("catalogue:lines")))
    assert "contradicts itself" in page
    assert "needs the plate out, and no operation brings that about" in page
    assert change(office, "plate-out", opens__plate="out").status_code == 302
    assert "contradicts itself" not in told(office.get(reverse("catalogue:lines")))


def test_the_pages_ask_a_fixed_number_of_questions(office, trade, django_assert_num_queries):
    with django_assert_num_queries(22):  # session, person, shop, operations, lines, steps; the catalogue
        office.get(reverse("catalogue:lines"))
    with django_assert_num_queries(13):
        office.get(page_of("string-treble"))
    with django_assert_num_queries(13):
        office.get(page_of("casters"))
