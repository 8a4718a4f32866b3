"""What was left as found: decided with a reason, told wherever it matters, ended when it is mended."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.test import Client, TestCase

from shopflow.common.refusals import Refused
from shopflow.instruments.models import Finding
from shopflow.offers.models import LeftAsFound
from shopflow.offers.selectors.left import left_as_found, left_briefly, undecided
from shopflow.offers.services import answers, leaving
from shopflow.people.access import NotAllowed
from tests import cast

from .shop import PRIVATE, Crack, signed_in


class DeedTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()

    def leave(self, **given):
        usual = {
            "finding": self.crack.finding,
            "reason": Finding.Reason.SOUND,
            "consequence": "It may grow.",
            "by": self.crack.manager,
        }
        return leaving.leave_by_the_shop(**(usual | given))

    def test_neither_hand_nor_stranger_decides(self):
        for person in (self.crack.hand, cast.stranger()):
            with pytest.raises(NotAllowed):
                self.leave(by=person)

    def test_it_is_kept_with_who_decided_and_is_no_longer_open(self):
        assert [one.pk for one in undecided(self.crack.instrument)] == [self.crack.finding.pk]
        left = self.leave(price_later=Decimal(400))
        assert (left.decided_by, left.price_later) == ("Maud Ferrier", Decimal(400))
        assert undecided(self.crack.instrument) == []
        assert left_as_found(self.crack.instrument) == [left]

    def test_what_cannot_wait_has_no_later_price(self):
        assert self.leave(can_wait=False, price_later=Decimal(400)).price_later is None

    def test_deciding_twice_is_deciding_once(self):
        assert self.leave() == self.leave()
        with pytest.raises(IntegrityError), transaction.atomic():
            LeftAsFound.objects.create(finding=self.crack.finding, reason="sound", decided_by="x")

    def test_what_is_in_work_or_mended_is_not_left(self):
        for state in (Finding.State.IN_WORK, Finding.State.MENDED):
            Finding.objects.update(state=state)
            with pytest.raises(Refused):
                self.leave()

    def test_ended_it_stays_on_record(self):
        left = self.leave()
        leaving.end_leaving(left=left, why="mended on the way", by=self.crack.manager, is_mended=True)
        leaving.end_leaving(left=left, why="a second time", by=self.crack.manager, is_mended=False)
        left.refresh_from_db()
        assert left.ended_why == "mended on the way"
        self.crack.finding.refresh_from_db()
        assert self.crack.finding.state == Finding.State.MENDED
        assert left_as_found(self.crack.instrument) == []

    def test_a_yes_to_mending_it_after_all_ends_it(self):
        left = self.leave()
        change = self.crack.sent()
        answers.enter_answer(
            change=change,
            choice_id=self.crack.choice(change, "do").pk,
            typed_name="P",
            fingerprint=change.fingerprint,
            by=self.crack.manager,
        )
        left.refresh_from_db()
        assert "mended after all" in left.ended_why

    def test_the_gravest_is_named_first(self):
        self.leave()
        grave = self.crack.add_finding("Loose leg", severity=4)
        self.leave(finding=grave)
        assert left_briefly(self.crack.instrument).gravest == "Loose leg"
        assert left_as_found(self.crack.instrument)[0].finding == grave


class PageTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()
        cls.left = leaving.leave_by_the_shop(
            finding=cls.crack.finding,
            reason=Finding.Reason.MONEY,
            consequence="It may grow.",
            decided_by=PRIVATE[0],
            price_later=Decimal(437),
            by=cls.crack.manager,
        )
        cls.address = f"/instruments/{cls.crack.instrument.number}/left-as-found/"

    def test_the_stranger_stays_outside(self):
        assert Client().get(self.address).status_code == 302
        assert signed_in(cast.stranger()).get(self.address).status_code == 403

    def test_a_hand_sees_what_not_to_mend_and_neither_names_nor_prices(self):
        page = signed_in(self.crack.hand).get(self.address).content.decode()
        assert "Open crack" in page
        assert "It may grow." in page
        for hidden in (*PRIVATE, "437", '<form method="post" action="/instruments'):
            assert hidden not in page

    def test_the_office_sees_who_decided_and_what_it_costs_later(self):
        page = signed_in(self.crack.manager).get(self.address).content.decode()
        assert PRIVATE[0] in page
        assert "437" in page

    def test_the_office_leaves_a_finding_with_its_reason(self):
        other = self.crack.add_finding("Worn hinge")
        office = signed_in(self.crack.manager)
        typed = {"reason": "reach", "consequence": "It squeaks.", "price_later": "1e400"}
        answer = office.post(f"{self.address}{other.pk}/leave/", typed)
        assert answer.status_code == 422
        assert "0 to 99,999" in answer.content.decode()
        for _ in range(2):
            typed["price_later"] = "120,50"
            assert office.post(f"{self.address}{other.pk}/leave/", typed).status_code == 302
        assert LeftAsFound.objects.filter(finding=other).count() == 1

    def test_a_finding_of_another_instrument_is_not_there(self):
        other = cast.instrument(by=self.crack.manager, number="215")
        office = signed_in(self.crack.manager)
        address = f"/instruments/{other.number}/left-as-found/{self.crack.finding.pk}/leave/"
        assert office.post(address, {"reason": "sound", "consequence": "x"}).status_code == 404
        address = f"/instruments/{other.number}/left-as-found/{self.left.pk}/end/"
        assert office.post(address, {"why": "x"}).status_code == 404

    def test_the_page_of_the_instrument_asks_for_it_and_is_told(self):
        hand = signed_in(self.crack.hand)
        page = hand.get(f"/instruments/{self.crack.instrument.number}/").content.decode()
        assert f'hx-get="{self.address}notice/"' in page
        notice = hand.get(f"{self.address}notice/").content.decode()
        assert "One finding was left as found" in notice
        other = cast.instrument(by=self.crack.manager, number="215")
        assert hand.get(f"/instruments/{other.number}/left-as-found/notice/").content.strip() == b""

    def test_it_asks_as_often_for_one_as_for_many(self):
        office = signed_in(self.crack.manager)
        with self.assertNumQueries(9):
            office.get(self.address)
        for number in range(3):
            finding = self.crack.add_finding(f"More {number}")
            leaving.leave_by_the_shop(finding=finding, reason="sound", consequence="x", by=self.crack.manager)
        with self.assertNumQueries(9):
            office.get(self.address)
