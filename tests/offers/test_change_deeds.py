"""Change orders from the first word to the answer and all that follows from it."""

from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core import mail
from django.db import OperationalError, connection, transaction
from django.test import TestCase

from shopflow.catalogue.models import Terms
from shopflow.common import clock, jobs
from shopflow.common.models import Job
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Finding
from shopflow.offers.models import (
    Approval,
    ChangeAnswer,
    ChangeOrder,
    LaidOut,
    LeftAsFound,
    Offer,
    Option,
)
from shopflow.offers.selectors.offers import overview
from shopflow.offers.selectors.touched import touched_by
from shopflow.offers.services import answers, changes
from shopflow.offers.services.choices import CHOICE_FACTS
from shopflow.people.access import NotAllowed
from shopflow.workshop.models import PromiseMade, Snag, Task
from tests import cast
from tests.test_a_fault_at_any_step import blocks_of_their_own, failing_at, state_of_the_shop

from .shop import PRIVATE, Crack, stopped


class BeginTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()

    def test_neither_hand_nor_stranger_begins_one(self):
        for person in (self.crack.hand, cast.stranger()):
            with pytest.raises(NotAllowed):
                changes.begin(finding=self.crack.finding, by=person)
        assert not ChangeOrder.objects.exists()

    def test_it_begins_with_what_the_library_knows(self):
        change = changes.begin(finding=self.crack.finding, by=self.crack.manager)
        assert change.what == "The soundboard has a crack that is open."
        assert change.decide_by == clock.today() + timedelta(days=self.crack.terms.decide_days)
        assert [choice.kind for choice in change.choices.all()] == ["do", "cheaper", "leave"]
        assert change.choices.get(kind="leave").consequence == self.crack.kind.if_left

    def test_the_price_is_hours_at_the_rate_with_margin_rounded_up(self):
        """4 h at 40 with 25 % on top is 200; the strings come off anyway and cost nothing more."""
        change = changes.begin(finding=self.crack.finding, by=self.crack.manager)
        do = change.choices.get(kind="do")
        assert (do.hours, do.cost, do.price) == (Decimal(4), Decimal(160), Decimal(200))

    def test_later_it_costs_the_opening_once_more(self):
        """4 h of shimming, strings off and on again: 12 h at 40 with 25 % on top."""
        change = changes.begin(finding=self.crack.finding, by=self.crack.manager)
        assert change.choices.get(kind="leave").price_later == Decimal(600)

    def test_only_what_comes_after_is_proposed_to_stop(self):
        change = changes.begin(finding=self.crack.finding, by=self.crack.manager)
        assert [task.operation.code for task in change.stops.all()] == ["string-treble"]

    def test_what_waits_behind_a_stopped_task_needs_no_snag_of_its_own(self):
        chip = cast.operation("chip", at=self.crack.bench)
        cast.says(chip, after=["crack-shim", "string-treble"])
        strung = self.crack.tasks["string-treble"]
        behind = cast.task(chip, on=self.crack.instrument, by=self.crack.manager, needs=[strung])
        touched = touched_by(self.crack.instrument, self.crack.kind.remedies.all())
        told = {one.task.pk: one for one in touched}
        assert not told[behind.pk].should_stop
        assert "waits for “String-treble” anyway" in told[behind.pk].why
        assert told[self.crack.tasks["string-treble"].pk].should_stop

    def test_what_is_in_the_job_anyway_costs_nothing_and_takes_no_days(self):
        cast.task(self.crack.operations["crack-shim"], on=self.crack.instrument, by=self.crack.manager)
        change = changes.begin(finding=self.crack.finding, by=self.crack.manager)
        do = change.choices.get(kind="do")
        assert (do.price, do.days_low, do.days_high) == (0, 0, 0)

    def test_beginning_twice_gives_one(self):
        first, second = (changes.begin(finding=self.crack.finding, by=self.crack.manager) for _ in range(2))
        assert first == second
        assert ChangeOrder.objects.count() == 1

    def test_what_is_mended_is_not_asked_about(self):
        self.crack.finding.state = Finding.State.MENDED
        self.crack.finding.save()
        with pytest.raises(Refused, match="mended"):
            changes.begin(finding=self.crack.finding, by=self.crack.manager)


class DraftTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()

    def setUp(self):
        self.change = self.crack.draft()

    def save(self, **given):
        facts = {name: getattr(self.change, name) for name in changes.FACTS} | given.pop("facts", {})
        rows = {row.kind: row for row in self.change.choices.all()}
        choices = {kind: {name: getattr(row, name) for name in CHOICE_FACTS} for kind, row in rows.items()}
        for kind, typed in given.pop("choices", {}).items():
            choices[kind] |= typed
        usual = {"seen_edition": self.change.edition, "stops": self.change.stops.all()}
        return changes.save_draft(
            change=self.change, facts=facts, choices=choices, by=self.crack.manager, **(usual | given)
        )

    def test_a_typed_price_stands_and_can_be_reckoned_anew(self):
        saved = self.save(choices={"do": {"price": Decimal(250)}})
        assert saved.choices.get(kind="do").price == Decimal(250)
        self.change.refresh_from_db()
        saved = self.save(price_anew=True)
        assert saved.choices.get(kind="do").price == Decimal(200)

    def test_the_second_of_two_writers_is_told(self):
        self.save()
        with pytest.raises(changes.DraftChanged):
            self.save(seen_edition=1)

    def test_a_day_that_is_past_is_refused(self):
        with pytest.raises(Refused, match="past"):
            self.save(facts={"decide_by": clock.today() - timedelta(days=1)})

    def test_another_remedy_waits_for_the_plan_again(self):
        fill = self.crack.choice(self.change, "cheaper").remedy
        saved = self.save(choices={"do": {"remedy": fill}})
        assert saved.choices.get(kind="do").days_high is None

    def test_what_must_be_said_is_asked_for_before_it_is_sent(self):
        for facts, words in (({"why_hidden": ""}, "could not be seen"), ({"what": ""}, "plain words")):
            saved = self.save(facts=facts, seen_edition=ChangeOrder.objects.get().edition)
            with pytest.raises(Refused, match=words):
                changes.send(change=saved, seen_edition=saved.edition, by=self.crack.manager)
            self.change.refresh_from_db()


class SendTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()

    def test_only_the_ticked_tasks_stop_and_the_rest_goes_on(self):
        self.crack.sent()
        assert stopped(self.crack.instrument) == {"string-treble"}

    def test_the_snag_waits_for_the_owner_without_a_name(self):
        change = self.crack.sent()
        snag = Snag.objects.get()
        assert (snag.cause, snag.owner_name, snag.ask_again_on) == (
            "customer",
            "the owner",
            change.decide_by,
        )
        assert not any(private in snag.reason for private in PRIVATE)

    def test_what_is_frozen_tells_nothing_of_the_inside(self):
        change = self.crack.sent()
        said = json.dumps(change.frozen, ensure_ascii=False)
        assert "£200" in said
        for inside in ("cost", "hours", "margin", "160", *PRIVATE):
            assert inside not in said

    def test_sent_twice_is_refused_and_stops_nothing_twice(self):
        change = self.crack.sent()
        with pytest.raises(changes.DraftChanged):
            changes.send(change=change, seen_edition=change.edition, by=self.crack.manager)
        assert Snag.objects.count() == 1

    def test_written_anew_it_has_another_fingerprint_and_the_same_snag(self):
        change = self.crack.sent()
        before = change.fingerprint
        draft = changes.rewrite(change=change, seen_edition=change.edition, by=self.crack.manager)
        assert stopped(self.crack.instrument) == {"string-treble"}
        again = changes.send(change=draft, seen_edition=draft.edition, by=self.crack.manager)
        assert again.fingerprint != before
        assert Snag.objects.count() == 1

    def test_withdrawn_it_lets_the_work_go_on(self):
        change = self.crack.sent()
        changes.withdraw(change=change, seen_edition=change.edition, by=self.crack.manager)
        assert stopped(self.crack.instrument) == set()
        self.crack.finding.refresh_from_db()
        assert self.crack.finding.state == Finding.State.OPEN

    def test_what_is_overdue_is_marked_where_the_office_looks(self):
        self.crack.sent()
        (one,) = overview().with_customers
        assert not one.is_past
        with clock.at(clock.now() + timedelta(days=self.crack.terms.decide_days + 3)):
            (one,) = overview().with_customers
            assert one.is_past


class AnswerTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()
        cls.crack.instrument.promised_on = clock.today() + timedelta(days=40)
        cls.crack.instrument.save()
        cls.change = cls.crack.sent()

    def enter(self, kind="do", **given):
        usual = {
            "change": self.change,
            "choice_id": self.crack.choice(self.change, kind).pk,
            "typed_name": "P. Vane-Quist",
            "fingerprint": self.change.fingerprint,
            "by": self.crack.manager,
        }
        return answers.enter_answer(**(usual | given))

    def test_a_hand_enters_no_answer(self):
        with pytest.raises(NotAllowed):
            self.enter(by=self.crack.hand)

    def test_do_it_adds_the_work_clears_the_snag_and_moves_the_promise(self):
        before = self.crack.instrument.promised_on
        self.enter("do")
        task = Task.objects.get(operation__code="crack-shim")
        assert LaidOut.objects.get(task=task).finding == self.crack.finding
        assert task.needs.get().needs.operation.code == "strings-off"
        assert self.crack.tasks["string-treble"].needs.filter(needs=task).exists()
        assert stopped(self.crack.instrument) == set()
        self.crack.instrument.refresh_from_db()
        assert self.crack.instrument.promised_on == before + timedelta(days=7)
        assert PromiseMade.objects.get().instead_of == before
        self.crack.finding.refresh_from_db()
        assert self.crack.finding.state == Finding.State.IN_WORK

    def test_the_promise_stays_where_the_office_said_so(self):
        ChangeOrder.objects.update(moves_promise=False)
        self.enter("do")
        assert not PromiseMade.objects.exists()

    def test_leave_it_is_kept_with_who_decided_and_what_to_expect(self):
        self.enter("leave")
        left = LeftAsFound.objects.get()
        assert (left.decided_by, left.reason) == ("P. Vane-Quist", "wish")
        assert left.consequence == self.crack.kind.if_left
        assert (left.price_now, left.price_later) == (Decimal(200), Decimal(600))
        assert not Task.objects.filter(operation__code__startswith="crack").exists()

    def test_the_other_way_drops_what_was_sold_for_it_and_not_begun(self):
        shim = cast.task(self.crack.operations["crack-shim"], on=self.crack.instrument, by=self.crack.manager)
        LaidOut.objects.create(task=shim, finding=self.crack.finding)
        self.enter("cheaper")
        shim.refresh_from_db()
        assert shim.dropped_at is not None
        assert Task.objects.in_the_job().filter(operation__code="crack-fill").exists()

    def test_what_another_finding_needs_too_stays(self):
        shim = cast.task(self.crack.operations["crack-shim"], on=self.crack.instrument, by=self.crack.manager)
        other = self.crack.add_finding("Another crack")
        for finding in (self.crack.finding, other):
            LaidOut.objects.create(task=shim, finding=finding)
        self.enter("leave")
        shim.refresh_from_db()
        assert shim.dropped_at is None

    def test_sent_twice_it_counts_once(self):
        assert self.enter() == self.enter()
        assert ChangeAnswer.objects.count() == 1
        assert Task.objects.filter(operation__code="crack-shim").count() == 1

    def test_both_sides_get_the_paper_of_what_was_decided(self):
        self.crack.manager.email = "maud@quillmere.example"
        self.crack.manager.save()
        given = self.enter("leave")
        job = Job.objects.get(kind=answers.MAIL)
        assert job.args == {"answer_id": given.pk}
        jobs.work_for(answers.MAIL)(None, **job.args)
        assert [letter.to for letter in mail.outbox] == [[PRIVATE[1]], ["maud@quillmere.example"]]
        assert "leave it as found" in mail.outbox[0].body

    def test_another_answer_afterwards_is_told_what_was_answered(self):
        self.enter("do")
        with pytest.raises(answers.AnsweredAlready, match="do it"):
            self.enter("leave")
        assert not LeftAsFound.objects.exists()

    def test_words_that_were_replaced_are_not_answered(self):
        old = self.change.fingerprint
        draft = changes.rewrite(change=self.change, seen_edition=self.change.edition, by=self.crack.manager)
        with pytest.raises(answers.OtherWords):
            self.enter(fingerprint=old)
        changes.send(change=draft, seen_edition=draft.edition, by=self.crack.manager)
        with pytest.raises(answers.OtherWords):
            self.enter(fingerprint=old)
        assert not ChangeAnswer.objects.exists()

    def test_a_choice_of_another_change_order_is_none_of_this(self):
        with pytest.raises(Refused, match="Choose"):
            self.enter(choice_id=987654)

    def test_a_name_is_needed(self):
        with pytest.raises(Refused, match="name"):
            self.enter(typed_name="  ")

    def test_a_fault_at_any_write_leaves_before_or_after(self):
        before = state_of_the_shop()
        with transaction.atomic():
            with failing_at(0) as seen:
                self.enter()
            writes = len(seen)
            transaction.set_rollback(True)
        assert writes > 8
        for step in range(1, writes + 1):
            with transaction.atomic():
                with blocks_of_their_own(), failing_at(step), pytest.raises(OperationalError):
                    self.enter()
                connection.needs_rollback = False
                assert state_of_the_shop() == before, f"write {step} of {writes}"
                transaction.set_rollback(True)


class PolicyTests(TestCase):
    def agreed(self, crack, price):
        offer = Offer.objects.create(
            instrument=crack.instrument, version=1, state="approved", fingerprint="x", made_by=crack.manager
        )
        option = Option.objects.create(offer=offer, name="Rebuilt", price=price)
        Approval.objects.create(
            offer=offer, option=option, typed_name="P", fingerprint="x", entered_by=crack.manager
        )

    def settle(self, crack, change, kind="do"):
        return answers.settle_by_policy(
            change=change,
            choice_id=crack.choice(change, kind).pk,
            seen_edition=change.edition,
            by=crack.manager,
        )

    def test_always_asking_means_asking(self):
        crack = Crack(surprise=Terms.Surprise.ASK)
        with pytest.raises(Refused, match="asked before every extra"):
            self.settle(crack, crack.draft())

    def test_within_the_share_the_shop_settles_and_beyond_it_asks(self):
        crack = Crack(surprise=Terms.Surprise.UP_TO, surprise_percent=10)
        self.agreed(crack, Decimal(2100))
        given = self.settle(crack, crack.draft())
        assert given.by_policy
        assert given.choice.price == Decimal(200)
        crack.finding = crack.add_finding("Another crack")
        second = crack.draft()
        assert crack.choice(second, "do").price == 0, "the crack is shimmed anyway: paid once"
        second.choices.filter(kind="do").update(price=Decimal("10.01"))
        with pytest.raises(Refused, match=r"10\.00 is left"):
            self.settle(crack, second)

    def test_without_a_price_agreed_there_is_no_share(self):
        crack = Crack(surprise=Terms.Surprise.UP_TO, surprise_percent=10)
        with pytest.raises(Refused, match="ask"):
            self.settle(crack, crack.draft())

    def test_a_fixed_price_means_that_the_shop_carries_it(self):
        crack = Crack(surprise=Terms.Surprise.FIXED)
        change = crack.draft()
        do = crack.choice(change, "do")
        assert (do.price, do.cost) == (0, Decimal(160))
        assert self.settle(crack, change).by_policy
        assert Task.objects.filter(operation__code="crack-shim").exists()

    def test_the_terms_of_that_moment_count(self):
        crack = Crack(surprise=Terms.Surprise.FIXED)
        change = crack.draft()
        Terms.objects.update(surprise=Terms.Surprise.ASK)
        assert self.settle(crack, change).by_policy

    def test_the_shop_never_leaves_something_by_itself(self):
        crack = Crack(surprise=Terms.Surprise.FIXED)
        with pytest.raises(Refused, match="customer's to decide"):
            self.settle(crack, crack.draft(), "leave")


class PriceTests(TestCase):
    """Strings are on again: a crack that comes to light then is opened and closed once more."""

    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()
        for code in ("strings-off", "string-treble"):
            cast.walk(cls.crack.tasks[code], by=cls.crack.manager)

    def test_what_was_closed_is_opened_and_closed_once_more_and_says_so(self):
        do = changes.begin(finding=self.crack.finding, by=self.crack.manager).choices.get(kind="do")
        assert (do.hours, do.price) == (Decimal(12), Decimal(600))
        assert [name for name, _ in do.besides] == ["Strings-off", "String-treble"]
        assert all("once more" in why for _, why in do.besides)

    def test_what_becomes_needless_falls_away_for_its_price_and_is_dropped_with_the_answer(self):
        polish = cast.operation("polish", at=self.crack.bench, upright_likely=2)
        cast.says(polish, keeps=["board"])
        task = cast.task(polish, on=self.crack.instrument, by=self.crack.manager)
        shim = self.crack.operations["crack-shim"]
        cast.says(shim, needs={"strings": "at most off"}, renews=["board"])
        change = self.crack.sent()
        do = change.choices.get(kind="do")
        assert (do.falls_away, do.credit, do.price) == (["Polish"], Decimal(100), Decimal(500))
        words = next(one for one in change.frozen["choices"] if one["kind"] == "do")
        assert words["credit"] == "Not needed any more: “Polish”: £100 less, taken off already"
        answers.enter_answer(
            change=change,
            choice_id=do.pk,
            typed_name="P. Vane-Quist",
            fingerprint=change.fingerprint,
            by=self.crack.manager,
        )
        task.refresh_from_db()
        assert task.dropped_at is not None
        assert "Crack-shim" in task.dropped_reason

    def test_less_than_it_costs_needs_a_reason_that_is_kept(self):
        change = self.crack.draft()
        do = change.choices.get(kind="do")
        do.price = do.cost - 1
        do.save()
        with pytest.raises(Refused, match="costs the shop"):
            changes.send(change=change, seen_edition=change.edition, by=self.crack.manager)
        do.price_reason = "our own slip"
        do.save()
        sent = changes.send(change=change, seen_edition=change.edition, by=self.crack.manager)
        assert sent.choices.get(kind="do").price_reason == "our own slip"
        assert "slip" not in json.dumps(sent.frozen)

    def test_what_is_unsafe_is_not_offered_to_be_left(self):
        self.crack.kind.stops = "safe"
        self.crack.kind.save()
        change = changes.begin(finding=self.crack.finding, by=self.crack.manager)
        assert not change.choices.filter(kind="leave").exists()
