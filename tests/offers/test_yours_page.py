"""The customer's page: where it stands in plain words, only chosen photos, nothing of the inside."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from html import unescape

from django.test import Client, TestCase

from shopflow.common import clock
from shopflow.customers.models import PrivateLink
from shopflow.customers.services import links
from shopflow.instruments.models import Instrument
from shopflow.offers.models import Handover
from shopflow.offers.services.answers import settle_by_policy
from shopflow.photos.models import Photo
from shopflow.photos.services import add_photo, choose_for_customer, make_copies
from shopflow.workshop.services import hours, intake, passages, snags
from tests import cast
from tests.photos import pictures

from .links import as_customer
from .shop import PRIVATE, Crack, signed_in


class StandingTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()

    def page(self, instrument=None):
        customer = as_customer(instrument or self.crack.instrument, by=self.crack.manager)
        return customer.get("/yours/").content.decode()

    def test_what_is_done_under_hand_and_next(self):
        cast.walk(self.crack.tasks["strings-off"], by=self.crack.manager)
        cast.send(self.crack.tasks["rub-out"], "stripped", by=self.crack.manager)
        page = self.page()
        done, now, then = page.index("Last finished"), page.index("Under hand"), page.index("<dt>Next")
        assert done < page.index("Strings-off") < now < page.index("Rub-out") < then
        assert page.index("String-treble") > then

    def test_what_has_been_undone_is_not_told_as_finished(self):
        assert "Last finished" not in self.page()

    def test_a_snag_is_told_in_plain_words_and_nothing_of_its_reason(self):
        snags.raise_snag(
            task=self.crack.tasks["rub-out"],
            cause="fault",
            reason="Finn sanded through the edge again",
            ask_again_on=clock.today(),
            by=self.crack.manager,
        )
        page = self.page()
        assert "a detail that did not satisfy us" in page
        for inside in ("Finn", "sanded through", "Maud Ferrier"):
            assert inside not in page

    def test_the_plan_is_told_with_how_sure_it_is(self):
        today = clock.today()
        piano = self.crack.instrument
        piano.likely_by, piano.promised_on = today + timedelta(days=20), today + timedelta(days=30)
        piano.promise_odds = 0.9
        piano.save()
        page = self.page()
        assert "in four cases out of five" in page
        assert "we keep that day in 9 in 10 cases" in page
        piano.promise_odds = 0.2
        piano.save()
        assert "in only 2 in 10 cases, and we say so early" in self.page()
        piano.promise_odds = 0.01
        piano.save()
        assert "we will hardly keep that day, and we say so early" in self.page()
        piano.promise_odds = 0.99
        piano.save()
        assert "we keep that day nearly surely" in self.page()

    def test_without_a_plan_it_says_that_it_does_not_know(self):
        assert "We cannot say yet when it will be finished" in self.page()

    def test_a_promise_gone_by_is_owned_up_to(self):
        self.crack.instrument.promised_on = clock.today() - timedelta(days=3)
        self.crack.instrument.save()
        assert "That day has passed, and we are sorry" in self.page()

    def test_a_decision_that_waits_stands_first_and_is_a_link(self):
        change = self.crack.sent()
        page = self.page()
        assert f'href="/yours/changes/{change.number}/"' in page
        assert page.index("Waiting for your decision") < page.index("Where it stands")
        assert "for your decision" in page[page.index("Where it stands") :]

    def test_what_was_settled_without_asking_is_told(self):
        self.crack.terms.surprise = "fixed"
        self.crack.terms.save()
        draft = self.crack.draft()
        settle_by_policy(
            change=draft,
            choice_id=self.crack.choice(draft, "do").pk,
            seen_edition=draft.edition,
            by=self.crack.manager,
        )
        assert "settled by us without asking, as agreed" in self.page()

    def test_nothing_of_hours_money_or_anybody_else(self):
        hours.enter_hours(task=self.crack.tasks["rub-out"], hours=Decimal("7.25"), by=self.crack.hand)
        cast.instrument(by=self.crack.manager, number="215", customer=cast.customer("Somebody Else"))
        self.crack.sent()
        page = self.page()
        for inside in ("7.25", "cost", "margin", "Somebody Else", PRIVATE[1], "Ada Lund", "<script"):
            assert inside not in page

    def test_it_asks_as_often_for_few_tasks_as_for_many(self):
        customer = as_customer(self.crack.instrument, by=self.crack.manager)
        customer.get("/yours/")
        with self.assertNumQueries(19):
            customer.get("/yours/")
        for number in range(6):
            cast.task(
                cast.operation(f"more-{number}", at=self.crack.bench),
                on=self.crack.instrument,
                by=self.crack.manager,
            )
        with self.assertNumQueries(19):
            customer.get("/yours/")


class PhotosChosenTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()
        cls.photo = make_copies(
            add_photo(
                instrument=cls.crack.instrument,
                file=pictures.file(pictures.jpeg()),
                role=Photo.Role.FOUND,
                caption="the lid",
                by=cls.crack.hand,
            )
        )
        cls.address = f"/photos/{cls.photo.key}/for-customer/"

    def test_only_the_office_chooses(self):
        assert Client().post(self.address, {"chosen": "yes"}).status_code == 302
        for person in (cast.stranger(), self.crack.hand):
            assert signed_in(person).post(self.address, {"chosen": "yes"}).status_code == 403
        self.photo.refresh_from_db()
        assert not self.photo.for_customer

    def test_chosen_it_stands_on_the_page_and_no_longer_it_does_not(self):
        customer = as_customer(self.crack.instrument, by=self.crack.manager)
        office = signed_in(self.crack.manager)
        office.post(self.address, {"chosen": "yes"})
        assert f"/yours/photos/{self.photo.key}/400/" in customer.get("/yours/").content.decode()
        office.post(self.address, {"chosen": "no"})
        assert str(self.photo.key) not in customer.get("/yours/").content.decode()

    def test_choosing_twice_does_no_harm(self):
        for _ in range(2):
            choose_for_customer(photo=self.photo, chosen=True, by=self.crack.manager)
        self.photo.refresh_from_db()
        assert self.photo.for_customer


class RevokedTests(TestCase):
    def test_a_closed_link_closes_every_page_at_once(self):
        crack = Crack()
        change = crack.sent()
        customer = as_customer(crack.instrument, by=crack.manager)
        assert customer.get(f"/yours/changes/{change.number}/").status_code == 200
        links.revoke(link=PrivateLink.objects.get(), by=crack.manager)
        for address in (
            "/yours/",
            f"/yours/changes/{change.number}/",
            f"/yours/changes/{change.number}/paper.pdf",
        ):
            assert customer.get(address).status_code == 404


class AnotherOwnerTests(TestCase):
    """A piano that was sold on: its new owner reads nothing of what was said to the one before."""

    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()
        cls.change = cls.crack.sent()
        cls.photo = make_copies(
            add_photo(
                instrument=cls.crack.instrument,
                file=pictures.file(pictures.jpeg()),
                role=Photo.Role.FOUND,
                caption="the lid",
                by=cls.crack.hand,
            )
        )
        choose_for_customer(photo=cls.photo, chosen=True, by=cls.crack.manager)
        cls.handover = Handover.objects.create(
            instrument=cls.crack.instrument,
            number=1,
            frozen={"photos": []},
            fingerprint="f" * 64,
            received_by="P",
            handed_over_by=cls.crack.manager,
            handed_over_at=clock.now(),
            customer=cls.crack.customer,
        )

    def sold_on(self):
        piano = self.crack.instrument
        piano.refresh_from_db()
        facts = {"customer": cast.customer("Next Owner")}
        intake.change_facts(instrument=piano, seen_version=piano.version, facts=facts, by=self.crack.manager)
        piano.refresh_from_db()
        return piano

    def test_change_orders_reports_and_chosen_photos_stay_with_the_earlier_one(self):
        addresses = (
            f"/yours/changes/{self.change.number}/",
            f"/yours/changes/{self.change.number}/paper.pdf",
            "/yours/handovers/1/",
            "/yours/handovers/1/report.pdf",
            f"/yours/photos/{self.photo.key}/400/",
        )
        before = as_customer(self.crack.instrument, by=self.crack.manager)
        shown = before.get("/yours/").content.decode()
        assert f"/yours/changes/{self.change.number}/" in shown
        assert "/yours/handovers/1/" in shown
        assert str(self.photo.key) in shown
        after = as_customer(self.sold_on(), by=self.crack.manager)
        shown = after.get("/yours/").content.decode()
        for private in ("/yours/changes/", "/yours/handovers/", str(self.photo.key)):
            assert private not in shown
        for address in addresses:
            assert after.get(address).status_code == 404, address

    def test_the_office_still_has_them_all(self):
        office = signed_in(self.crack.manager)
        piano = self.sold_on()
        assert (
            f"/changes/{self.change.number}/" in office.get(f"/instruments/{piano}/changes/").content.decode()
        )


class AtHomeTests(TestCase):
    """After it was handed over every page says so, and what is left to do is a visit with its own day."""

    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()
        cls.piano = cls.crack.instrument
        cls.visit = cast.task(
            cast.operation("aftercare-tune", at=cls.crack.bench, at_the_owners=True),
            on=cls.piano,
            by=cls.crack.manager,
        )
        for task in cls.crack.tasks.values():
            cast.walk(task, by=cls.crack.manager, until="hardening")
            cast.send(task, "proving", by=cls.crack.manager)
            cast.send(
                task, "signed", by=cls.crack.hand if task.department == cls.crack.bench else cast.owner()
            )
        Instrument.objects.filter(pk=cls.piano.pk).update(promised_on=clock.today() - timedelta(days=30))
        cls.piano.refresh_from_db()

    def page(self):
        return unescape(as_customer(self.piano, by=self.crack.manager).get("/yours/").content.decode())

    def office(self, address):
        return unescape(signed_in(self.crack.manager).get(address).content.decode())

    def test_finished_it_is_still_to_be_handed_over(self):
        assert "We will hand it over to you." in self.page()
        assert "to hand over" in self.office("/floor/")

    def test_handed_over_every_page_says_so(self):
        passages.hand_over(instrument=self.piano, by=self.crack.manager)
        assert "We handed it over on" in self.page()
        for address in ("/floor/", f"/instruments/{self.piano}/", f"/instruments/{self.piano}/handover/"):
            page = self.office(address)
            assert "handed over" in page.casefold(), address
            assert "waits to" not in page, address

    def test_at_home_nothing_is_late_and_the_visit_has_its_day(self):
        passages.hand_over(instrument=self.piano, by=self.crack.manager)
        passages.let_leave(instrument=self.piano, by=self.crack.manager)
        page = self.page()
        due = clock.today() + timedelta(weeks=8)
        assert f"Aftercare-tune: about {due:%B %Y}" in page
        for late in ("we are sorry", "We promised", "Under hand", "<dt>Next"):
            assert late not in page
        bench = self.office(f"/bench/{self.crack.bench.code}/")
        assert "a visit; at its owner’s since" in bench
        assert "days late" not in bench

    def test_what_an_earlier_stay_signed_is_no_progress_of_this_one(self):
        passages.let_leave(instrument=self.piano, by=self.crack.manager)
        self.piano.refresh_from_db()
        with clock.at(clock.now() + timedelta(days=60)):
            passages.arrive(instrument=self.piano, on=clock.today(), by=self.crack.manager)
            page = self.page()
        assert "Last finished" not in page
        assert "Strings-off" not in page
        assert "of 3 done" not in page
