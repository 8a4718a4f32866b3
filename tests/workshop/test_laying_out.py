"""Laying out by the state of the piano: completed, ordered, tied with reasons; added to and taken out of."""

from __future__ import annotations

import pytest
from django.core.exceptions import PermissionDenied

from shopflow.common.refusals import Refused
from shopflow.workshop.models import Task, TaskNeed
from shopflow.workshop.selectors.piano_says import piano_says
from shopflow.workshop.services import layout
from tests import cast

from .small_belly import small_belly

pytestmark = pytest.mark.django_db


@pytest.fixture
def ops():
    cast.shop()
    return small_belly()


@pytest.fixture
def maud(ops):
    return cast.manager()


@pytest.fixture
def piano(maud):
    return cast.instrument(by=maud)


@pytest.fixture
def finn(ops):
    return cast.finisher()


def lay(piano, ops, *codes, by):
    return layout.lay_out(instrument=piano, operations=[ops[code] for code in codes], by=by)


def add(piano, ops, *codes, by):
    return layout.add_work(instrument=piano, operations=[ops[code] for code in codes], by=by)


def codes(piano):
    tasks = Task.objects.in_the_job().filter(instrument=piano).order_by("position", "pk")
    return [task.operation.code for task in tasks.select_related("operation")]


def ties(piano):
    rows = TaskNeed.objects.filter(task__instrument=piano, task__dropped_at=None, needs__dropped_at=None)
    return set(rows.values_list("needs__operation__code", "task__operation__code"))


def sign(piano, code, by):
    task = Task.objects.open().filter(instrument=piano, operation__code=code).first()
    cast.walk(task, by=by)


def test_a_stranger_lays_nothing_out_and_adds_nothing(piano, ops):
    stranger = cast.stranger()
    for deed in (lay, add):
        with pytest.raises(PermissionDenied):
            deed(piano, ops, "repin", by=stranger)
    assert not Task.objects.exists()


def test_what_is_opened_is_closed_again_and_each_addition_says_why(piano, ops, maud):
    lay(piano, ops, "repin", by=maud)
    assert codes(piano) == ["unstring", "repin", "string", "chip", "tune"]
    why = dict(Task.objects.values_list("operation__code", "why"))
    assert why["repin"] == ""
    assert "“Repin” needs the wire off" in why["unstring"]
    assert "no piano leaves without the wire on" in why["string"]


def test_ties_are_minimal_and_each_has_its_reason(piano, ops, maud):
    lay(piano, ops, "repin", by=maud)
    assert ties(piano) == {("unstring", "repin"), ("repin", "string"), ("string", "chip"), ("chip", "tune")}
    assert all(TaskNeed.objects.values_list("reason", flat=True))


def test_the_order_of_mention_is_kept_as_far_as_the_piano_allows(piano, ops, maud):
    lay(piano, ops, "polish", "tune", "repin", by=maud)
    line = codes(piano)
    assert line[0] == "polish"
    assert line.index("repin") < line.index("tune")


def test_what_is_independent_is_not_tied(piano, ops, maud):
    lay(piano, ops, "repin", "bush", by=maud)
    assert not {("unstring", "bush"), ("bush", "string"), ("tune", "action-in")} & ties(piano)


def test_what_other_work_of_the_list_throws_away_is_left_out(piano, ops, maud):
    lay(piano, ops, "repin", "bridge-new", by=maud)
    assert "repin" not in codes(piano)


def test_work_added_while_it_stands_open_costs_nothing_more(piano, ops, maud, finn):
    lay(piano, ops, "string", by=maud)
    sign(piano, "unstring", finn)
    added = add(piano, ops, "repin", by=maud)
    assert [task.operation.code for task in added.tasks] == ["repin"]
    assert ("repin", "string") in ties(piano)
    assert codes(piano).index("repin") < codes(piano).index("string")
    assert [task.operation.code for task in added.touched] == ["string"]


def test_work_added_after_closing_opens_and_closes_again(piano, ops, maud, finn):
    lay(piano, ops, "string", by=maud)
    for code in ("unstring", "string", "chip"):
        sign(piano, code, finn)
    added = add(piano, ops, "repin", by=maud)
    assert [task.operation.code for task in added.tasks] == ["unstring", "repin", "string", "chip"]
    assert codes(piano).count("string") == 2
    again = Task.objects.open().get(operation__code="string")
    assert set(again.needs.values_list("needs__operation__code", flat=True)) == {"repin"}
    assert all(need.needs.stage.kind != "signed" for need in TaskNeed.objects.filter(task=again))


def test_what_has_become_needless_is_dropped_in_the_same_deed_and_told(piano, ops, maud, finn):
    lay(piano, ops, "repin", by=maud)
    added = add(piano, ops, "bridge-new", by=maud)
    assert [task.operation.code for task in added.dropped] == ["repin"]
    gone = Task.objects.get(operation__code="repin")
    assert gone.dropped_by == maud
    assert "throws" in gone.dropped_reason
    assert "Dropped, because needless now: “Repin”." in added.words
    assert "bridge-new" in codes(piano)


def test_what_was_done_in_vain_is_told_and_stays_signed(piano, ops, maud, finn):
    lay(piano, ops, "repin", by=maud)
    for code in ("unstring", "repin"):
        sign(piano, code, finn)
    added = add(piano, ops, "bridge-new", by=maud)
    assert added.in_vain == ("Repin",)
    assert "repin" in codes(piano)


def test_nothing_is_added_to_a_list_that_grew_meanwhile(piano, ops, maud):
    lay(piano, ops, "polish", by=maud)
    with pytest.raises(Refused, match="A task was added since"):
        layout.add_work(instrument=piano, operations=[ops["tune"]], by=maud, seen_newest=0)


def test_dropping_what_closes_says_what_then_stays_open(piano, ops, maud, finn):
    lay(piano, ops, "repin", by=maud)
    string = Task.objects.get(operation__code="string")
    assert any("no piano leaves without the wire on" in words for words in layout.what_dropping_means(string))
    polish = cast.task(ops["polish"], on=piano, by=maud)
    assert layout.what_dropping_means(polish) == ()


def test_after_a_drop_the_rest_waits_for_each_other_as_the_piano_says(piano, ops, maud):
    lay(piano, ops, "repin", by=maud)
    layout.drop_task(task=Task.objects.get(operation__code="repin"), by=maud, reason="it holds")
    assert ("unstring", "string") in ties(piano)


def test_own_words_hold_the_whole_case_until_somebody_says_what(piano, ops, maud):
    task = cast.task(ops["polish"], on=piano, by=maud)
    with pytest.raises(Refused, match="which parts it holds is said there"):
        layout.say_where(task=task, parts=["keys"], by=maud)
    task.operation = None
    task.save()
    layout.say_where(task=task, parts=["pedals", "keys"], by=maud)
    task.refresh_from_db()
    assert task.at == ["keys", "pedals"]


# --- what the piano says ---


def test_a_job_laid_out_by_the_piano_has_nothing_to_take_over(piano, ops, maud, finn):
    lay(piano, ops, "repin", "bush", by=maud)
    assert piano_says(piano).count == 0
    for code in ("unstring", "repin", "action-out"):
        sign(piano, code, finn)
        assert piano_says(piano).count == 0
    says = piano_says(piano)
    assert {(line.name, line.now) for line in says.moved} == {
        ("wire", "the wire off"),
        ("action", "the action out"),
    }


def test_a_job_of_before_is_told_what_it_lacks_and_it_is_taken_over_one_by_one(client, piano, ops, maud):
    repin, tune = (cast.task(ops[code], on=piano, by=maud) for code in ("repin", "tune"))
    says = piano_says(piano)
    assert {one.operation.code for one in says.missing} == {"unstring", "string", "chip"}
    assert [tie.pair for tie in says.untied] == [(repin.pk, tune.pk)] or says.untied == []
    client.force_login(maud)
    url = f"/instruments/{piano.number}/state/"
    assert "Missing work" in client.get(url).content.decode()
    for code in ("unstring", "string", "chip"):
        assert client.post(f"{url}add/", {"operation": ops[code].pk}).status_code == 302
    assert client.post(f"{url}add/", {"operation": ops["chip"].pk}).status_code == 422
    says = piano_says(piano)
    assert (says.missing, says.untied, says.count) == ([], [], 0)
    assert codes(piano) == ["unstring", "repin", "string", "chip", "tune"]


def test_a_missing_tie_is_taken_over_with_its_reason(client, piano, ops, maud):
    lay(piano, ops, "repin", by=maud)
    TaskNeed.objects.filter(task__operation__code="string").delete()
    (tie,) = piano_says(piano).untied
    client.force_login(maud)
    sent = {"earlier": tie.earlier.pk, "later": tie.later.pk}
    url = f"/instruments/{piano.number}/state/tie/"
    assert client.post(url, sent).status_code == 302
    assert TaskNeed.objects.get(task__operation__code="string").reason == tie.reason
    assert client.post(url, sent).status_code == 422


def test_contradictions_of_a_job_of_before_are_told(piano, ops, maud):
    for code in ("repin", "bridge-new"):
        cast.task(ops[code], on=piano, by=maud)
    says = piano_says(piano)
    assert len(says.clashes) == 1
    assert [one.task.operation.code for one in says.in_vain] == ["repin"]


def test_everybody_of_the_house_may_look_and_only_the_office_takes_over(client, piano, ops, finn):
    url = f"/instruments/{piano.number}/state/"
    client.force_login(cast.stranger())
    assert client.get(url).status_code == 403
    client.force_login(finn)
    assert client.get(url).status_code == 200
    assert client.post(f"{url}add/", {"operation": ops["repin"].pk}).status_code == 403
