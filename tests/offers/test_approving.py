"""A yes: to the words that were read, counted once, and all that follows from it."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest
from django.db import connections
from django.utils import timezone

from shopflow.catalogue.models import Operation
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.customers.services import links
from shopflow.instruments.models import Finding
from shopflow.offers.models import Approval, LaidOut, LeftAsFound, Offer
from shopflow.offers.services import approving, offers, sending
from shopflow.offers.services.refusals import ApprovedAlready, OtherVersion, PriceExpired
from shopflow.people.access import NotAllowed
from shopflow.workshop.models import Task, TaskNeed
from tests import cast

from . import offer_cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def there():
    return offer_cast.piano()


def say_yes(
    offer: Offer, link, *, option: int = 0, name: str = "Agnes Applegarth", **given: object
) -> Approval:
    chosen = list(offer.options.all())[option].pk
    asked = {"option_id": chosen, "typed_name": name, "fingerprint": offer.fingerprint} | given
    return approving.approve(offer=offer, link=link, **asked)


def test_a_yes_is_kept_with_name_moment_and_the_fingerprint_of_what_was_read(there):
    offer, link = offer_cast.sent(there)
    given = say_yes(offer, link, name="  Agnes Applegarth ")
    offer.refresh_from_db()
    assert offer.state == Offer.State.APPROVED
    assert (given.typed_name, given.fingerprint, given.link) == ("Agnes Applegarth", offer.fingerprint, link)


def test_a_yes_is_never_changed_and_never_taken_away(there):
    given = say_yes(*offer_cast.sent(there))
    given.typed_name = "Somebody Else"
    with pytest.raises(TypeError):
        given.save()
    with pytest.raises(TypeError):
        given.delete()
    with pytest.raises(TypeError):
        Approval.objects.all().delete()
    with pytest.raises(TypeError):
        Approval.objects.update(typed_name="x")
    assert Approval.objects.get().typed_name == "Agnes Applegarth"


def test_the_work_of_the_option_is_laid_out_in_working_order(there):
    say_yes(*offer_cast.sent(there, "keep-going"))
    tasks = Task.objects.filter(instrument=there.instrument).order_by("position")
    codes = [task.operation.code for task in tasks]
    assert sorted(codes) == ["bridge", "off", "on", "receive"]
    assert codes.index("off") < codes.index("bridge") < codes.index("on")
    assert TaskNeed.objects.filter(task__operation__code="bridge", needs__operation__code="off").exists()


def test_tasks_are_tied_to_the_findings_that_they_mend(there):
    offer, link = offer_cast.sent(there, "keep-going")
    say_yes(offer, link)
    tied = {(row.task.operation.code, row.finding_id) for row in LaidOut.objects.all()}
    bridge = there.findings["bridge"].pk
    assert tied == {("bridge", bridge), ("off", None), ("on", None), ("receive", None)}
    assert {row.option_id for row in LaidOut.objects.all()} == {offer.options.get().pk}


def test_findings_are_in_work_or_left_as_found_with_who_decided(there):
    say_yes(*offer_cast.sent(there, "keep-going"))
    states = dict(Finding.objects.values_list("name", "state"))
    assert states == {
        "bridge worn": Finding.State.IN_WORK,
        "hammers worn": Finding.State.LEFT,
        "veneer worn": Finding.State.LEFT,
        "Smells of smoke": Finding.State.LEFT,
    }
    hammers = LeftAsFound.objects.get(finding=there.findings["hammers"])
    assert (hammers.decided_by, hammers.reason) == ("Agnes Applegarth", Finding.Reason.MONEY)
    assert (hammers.price_now, hammers.price_later) == (90, 190)


def test_no_task_that_is_there_is_doubled(there):
    done = cast.task(there.operations["receive"], on=there.instrument, by=there.by)
    cast.walk(done, by=there.by)
    waiting = cast.task(there.operations["off"], on=there.instrument, by=there.by)
    say_yes(*offer_cast.sent(there, "keep-going"))
    codes = sorted(Task.objects.filter(instrument=there.instrument).values_list("operation__code", flat=True))
    assert codes == ["bridge", "off", "on", "receive"]
    assert LaidOut.objects.filter(task=waiting).exists()
    assert TaskNeed.objects.filter(task__operation__code="bridge", needs=waiting).exists()


@pytest.mark.parametrize(("finished", "laid_out"), [(True, 0), (False, 1)])
def test_the_survey_on_which_an_offer_rests_is_not_work_to_come(there, finished, laid_out):
    Operation.objects.filter(code="receive").update(code="survey")
    offer, link = offer_cast.sent(there, "keep-going")
    there.instrument.surveys.update(finished_at=clock.now() if finished else None)
    say_yes(offer, link)
    assert Task.objects.filter(instrument=there.instrument, operation__code="survey").count() == laid_out


def test_what_was_signed_in_an_earlier_stay_is_done_anew(there):
    done = cast.task(there.operations["receive"], on=there.instrument, by=there.by)
    with clock.at(timezone.now() - timedelta(days=400)):
        cast.walk(done, by=there.by)
    say_yes(*offer_cast.sent(there, "keep-going"))
    assert Task.objects.filter(instrument=there.instrument, operation__code="receive").count() == 2


def test_the_same_yes_sent_twice_counts_once(there):
    offer, link = offer_cast.sent(there)
    first, again = say_yes(offer, link), say_yes(offer, link)
    assert first.pk == again.pk
    assert LaidOut.objects.count() == Task.objects.count()


def test_another_yes_afterwards_is_told_what_was_said(there):
    offer, link = offer_cast.sent(there)
    say_yes(offer, link)
    for other in ({"option": 1}, {"name": "Bernard Applegarth"}):
        with pytest.raises(ApprovedAlready) as told:
            say_yes(offer, link, **other)
        assert "Agnes Applegarth" in told.value.message
    assert Approval.objects.count() == 1


def test_a_yes_to_a_replaced_version_is_refused_and_both_are_named(there):
    first, link = offer_cast.sent(there)
    second = offers.copy_as_draft(offer=first, by=there.by)
    sending.send(offer=second, seen_edition=second.edition, by=there.by)
    with pytest.raises(OtherVersion) as told:
        say_yes(first, link)
    assert (told.value.offer.version, told.value.standing.version) == (1, 2)
    first.refresh_from_db()
    assert (first.state, first.frozen["version"]) == (Offer.State.REPLACED, 1)
    assert not Approval.objects.exists()
    assert not Task.objects.exists()


def test_a_yes_to_other_words_is_refused(there):
    offer, link = offer_cast.sent(there)
    with pytest.raises(OtherVersion):
        say_yes(offer, link, fingerprint="0" * 64)
    assert not Approval.objects.exists()


@pytest.mark.parametrize("name", ["", "   "])
def test_a_yes_without_a_name_is_refused(there, name):
    offer, link = offer_cast.sent(there)
    with pytest.raises(Refused, match="Type your name"):
        say_yes(offer, link, name=name)


def test_an_option_of_another_offer_is_refused(there):
    offer, link = offer_cast.sent(there)
    other, _ = offer_cast.sent(offer_cast.piano(there.by, number="215"))
    with pytest.raises(Refused, match="Choose one"):
        say_yes(offer, link, option_id=other.options.first().pk)
    assert not Approval.objects.exists()


def test_a_link_to_another_piano_opens_nothing(there):
    offer, _ = offer_cast.sent(there)
    other = cast.instrument(by=there.by, number="215")
    with pytest.raises(Refused):
        say_yes(offer, links.make(instrument=other, by=there.by).link)


def test_prices_that_are_past_their_day_are_not_approved(there):
    offer, link = offer_cast.sent(there)
    with clock.at(timezone.now() + timedelta(days=31)), pytest.raises(PriceExpired, match="held until"):
        say_yes(offer, link)
    with clock.at(timezone.now() + timedelta(days=29)):
        assert say_yes(offer, link)


def test_a_piano_that_has_left_meanwhile_is_not_worked_on(there):
    offer, link = offer_cast.sent(there)
    there.instrument.left_on = clock.today()
    there.instrument.save()
    with pytest.raises(Refused, match="left the house"):
        say_yes(offer, link)
    assert not Task.objects.exists()


def test_when_the_work_cannot_be_laid_out_nothing_is_approved(there, monkeypatch):
    offer, link = offer_cast.sent(there)

    def refuse(**_: object) -> None:
        raise Refused("no stages")

    monkeypatch.setattr("shopflow.workshop.services.layout.lay_out", refuse)
    with pytest.raises(Refused, match="no stages"):
        say_yes(offer, link)
    offer.refresh_from_db()
    assert offer.state == Offer.State.SENT
    assert not Approval.objects.exists()
    assert not LeftAsFound.objects.exists()


def enter(offer: Offer, by, **given: object) -> Approval:
    asked = {"option_id": offer.options.first().pk, "typed_name": "Agnes", "signed_on": clock.today()} | given
    return approving.enter_approval(offer=offer, fingerprint=offer.fingerprint, by=by, **asked)


def test_the_office_enters_a_yes_on_paper_with_its_day(there):
    offer, _ = offer_cast.sent(there)
    given = enter(offer, there.by)
    assert (given.entered_by, given.link, given.signed_on) == (there.by, None, clock.today())


def test_nobody_else_enters_a_yes_and_no_day_before_it_was_sent(there):
    offer, _ = offer_cast.sent(there)
    with pytest.raises(NotAllowed):
        enter(offer, cast.finisher())
    for day in (-1, 1):
        with pytest.raises(Refused, match="allowed is"):
            enter(offer, there.by, signed_on=clock.today() + timedelta(days=day))


def test_a_yes_signed_in_time_counts_though_it_comes_late(there):
    offer, _ = offer_cast.sent(there)
    in_time = clock.today() + timedelta(days=20)
    with clock.at(timezone.now() + timedelta(days=35)):
        assert enter(offer, there.by, signed_on=in_time).signed_on == in_time


@pytest.mark.django_db(transaction=True)
def test_a_storm_of_the_same_yes_lays_the_work_out_once():
    there = offer_cast.piano()
    offer, link = offer_cast.sent(there)
    answers: list[object] = []

    def once() -> None:
        try:
            answers.append(say_yes(offer, link).pk)
        finally:
            connections.close_all()

    storm = [threading.Thread(target=once) for _ in range(12)]
    for one in storm:
        one.start()
    for one in storm:
        one.join()
    assert len(answers) == 12
    assert len(set(answers)) == 1
    assert Task.objects.count() == 4
    assert Approval.objects.count() == 1
