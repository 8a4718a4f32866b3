"""Tablets: added by the office, made of a device by a code, ended when lost."""

from __future__ import annotations

from datetime import timedelta

from django.test import Client, TestCase

from shopflow.common import clock
from shopflow.people import tablets
from shopflow.people.models import Tablet, TabletCode
from tests import cast

TABLETS = "/set-up/tablets/"


class TabletsTests(TestCase):
    def setUp(self):
        cast.shop()
        self.manager = cast.manager()
        self.bench = cast.department()
        self.tablet = cast.tablet()
        self.office = Client()
        self.office.force_login(self.manager)

    def new_code(self) -> str:
        page = self.office.post(f"{TABLETS}{self.tablet.pk}/code/")
        return page.context["code"]

    def test_a_stranger_signs_in_first_and_a_hand_may_not(self):
        ways = ("", f"{self.tablet.pk}/", f"{self.tablet.pk}/code/", f"{self.tablet.pk}/revoke/")
        hand = Client()
        hand.force_login(cast.finisher())
        for way in ways:
            assert self.client.post(TABLETS + way).status_code == 302
            assert hand.post(TABLETS + way).status_code == 403
        assert not TabletCode.objects.exists()

    def test_a_code_typed_on_a_device_makes_it_the_tablet(self):
        device = Client()
        answer = device.post("/tablet/", {"code": self.new_code()})
        self.assertRedirects(answer, "/sign-in/")
        cookie = device.cookies[tablets.COOKIE]
        assert cookie["httponly"]
        assert cookie["samesite"] == "Lax"
        assert len(cookie.value) >= 43, "at least 256 random bits"
        self.assertContains(device.get("/tablet/"), "Refinishing tablet")
        found = Tablet.objects.get()
        assert found.enrolled_by == self.manager
        assert cookie.value not in (found.token_hash or "")

    def test_a_code_works_once_for_a_quarter_of_an_hour_and_only_the_newest(self):
        first, second = self.new_code(), self.new_code()
        assert self.client.post("/tablet/", {"code": first}).status_code == 422
        with clock.at(clock.now() + timedelta(minutes=16)):
            assert self.client.post("/tablet/", {"code": second}).status_code == 422
        assert Client().post("/tablet/", {"code": second}).status_code == 302
        assert Client().post("/tablet/", {"code": second}).status_code == 422

    def test_a_code_that_is_none_says_so(self):
        for typed in ("", "1234", "abcdefgh", "١٢٣٤٥٦٧٨", "0" * 41):
            assert self.client.post("/tablet/", {"code": typed}).status_code == 422

    def test_codes_cannot_be_guessed_for_long(self):
        codes = [self.client.post("/tablet/", {"code": "00000000"}).status_code for _ in range(11)]
        assert codes == [422] * 10 + [429]

    def test_revoked_in_one_tap_and_out_at_once(self):
        device = cast.by_pin(Client(), cast.finisher(), self.tablet)
        assert device.get("/me/").status_code == 200
        self.office.post(f"{TABLETS}{self.tablet.pk}/revoke/")
        assert device.get("/me/").status_code == 302
        assert device.get("/me/", follow=True).context["tablet"] is None

    def test_a_new_code_takes_the_place_of_the_old_device_only_when_typed(self):
        old, new = cast.on_tablet(Client(), self.tablet), Client()
        code = self.new_code()
        assert old.get("/tablet/").context["tablet"] == self.tablet
        new.post("/tablet/", {"code": code})
        assert old.get("/tablet/").context["tablet"] is None

    def test_one_is_added_and_measured(self):
        given = {"name": "Action tablet", "department": self.bench.pk, "pixels_per_mm": "6.30"}
        self.assertRedirects(self.office.post(TABLETS, given), TABLETS)
        made = Tablet.objects.get(name="Action tablet")
        device = cast.on_tablet(Client(), made)
        self.assertContains(device.get("/tablet/"), '<svg width="315"')
        self.assertContains(device.get("/tablet/"), 'data-mm="6.30"')

    def test_what_cannot_be_is_refused(self):
        for given in [
            {"name": ""},
            {"name": "Refinishing tablet"},
            {"pixels_per_mm": "1.9"},
            {"pixels_per_mm": "NaN"},
            {"department": "99999"},
        ]:
            sent = {"name": "Another", "pixels_per_mm": "5.2"} | given
            assert self.office.post(TABLETS, sent).status_code == 422

    def test_two_who_change_one_tablet_both_see_both_versions(self):
        url = f"{TABLETS}{self.tablet.pk}/"
        seen = self.office.get(url).context["seen"]
        first = {"name": "Tablet by the window", "department": "", "pixels_per_mm": "5.20", "seen": seen}
        second = first | {"name": "Tablet by the door"}
        assert self.office.post(url, first).status_code == 302
        clash = self.office.post(url, second)
        self.assertContains(clash, "Tablet by the window", status_code=409)
        self.assertContains(clash, 'value="Tablet by the door"', status_code=409)
        assert self.office.post(url, first).status_code == 302, "the same once more is no clash"
        assert Tablet.objects.get().name == "Tablet by the window"
