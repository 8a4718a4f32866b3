"""Coming in: names and PIN on a shop tablet, name and password anywhere; going over; going out."""

from __future__ import annotations

from contextlib import suppress
from datetime import timedelta

import pytest
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.models import Session
from django.test import Client, TestCase

from shopflow.common import clock
from shopflow.people import pins, presence, throttle
from shopflow.people.devices import Device
from shopflow.people.models import Person, Role, SignInTry, Tablet
from tests import cast

PIN = "407915"
PASSWORD = "felt on the rail"


def someone(name: str = "Finn Tarrow", role: str = Role.HAND, **given: object) -> Person:
    return cast.person(name, role, password=PASSWORD, pin_hash=pins.make(PIN), **given)


class OffTheTabletTests(TestCase):
    def setUp(self):
        cast.shop()
        self.finn = someone()

    def test_a_stranger_sees_name_and_password_and_no_names_of_people(self):
        page = self.client.get("/sign-in/")
        self.assertContains(page, 'name="password"')
        self.assertNotContains(page, "Finn")

    def test_someone_with_the_role_of_a_stranger_is_not_let_in(self):
        someone("Stray Visitor", Role.STRANGER)
        answer = self.client.post("/sign-in/", {"sign_in_name": "stray-visitor", "password": PASSWORD})
        assert answer.status_code == 422
        assert SESSION_KEY not in self.client.session

    def test_the_right_pin_opens_nothing_and_is_not_even_looked_at(self):
        url = f"/sign-in/pin/{self.finn.pk}/"
        page = self.client.get(url)
        assert page.status_code == 403
        self.assertNotContains(page, "Finn", status_code=403)
        with self.assertLogs("shopflow.people.sign_in", "WARNING") as log:
            answer = self.client.post(url, {"pin": PIN})
        self.assertContains(answer, "opens only the shop’s own tablets", status_code=403)
        assert "PIN off a tablet" in log.output[0]
        assert SESSION_KEY not in self.client.session
        assert not SignInTry.objects.exists()

    def test_an_invented_tablet_cookie_is_no_tablet(self):
        self.client.cookies["tablet"] = "invented"
        assert self.client.post(f"/sign-in/pin/{self.finn.pk}/", {"pin": PIN}).status_code == 403

    def test_name_and_password_open_the_shop_whatever_the_case_of_the_name(self):
        answer = self.client.post("/sign-in/", {"sign_in_name": " Finn-Tarrow ", "password": PASSWORD})
        self.assertRedirects(answer, "/", fetch_redirect_response=False)
        assert self.client.session[SESSION_KEY] == str(self.finn.pk)

    def test_a_wrong_password_and_an_unknown_name_hear_the_same(self):
        first, second = (
            self.client.post("/sign-in/", {"sign_in_name": name, "password": "wrong"})
            for name in ("finn-tarrow", "nobody-at-all")
        )
        words = "do not belong together"
        self.assertContains(first, words, status_code=422)
        self.assertContains(second, words, status_code=422)
        self.assertContains(first, 'value="finn-tarrow"', status_code=422)

    def test_what_is_typed_as_a_name_cannot_break_the_log_line(self):
        with self.assertLogs("shopflow.people.sign_in") as log:
            self.client.post("/sign-in/", {"sign_in_name": 'x"\nINFO all is\u202e well', "password": "wrong"})
        (line,) = log.output
        assert "\n" not in line
        assert "\u202e" not in line

    def test_after_signing_in_one_lands_where_one_wanted_to_go_if_that_is_in_the_house(self):
        for wanted, landed in [
            ("/floor/?only=stopped", "/floor/?only=stopped"),
            ("https://elsewhere.example/", "/"),
            ("//elsewhere.example/", "/"),
            ("javascript:alert(1)", "/"),
            ("/sign-in/?next=/sign-in/", "/"),
            ("/" + "a" * 3000, "/"),
        ]:
            with self.subTest(wanted[:40]):
                given = {"sign_in_name": "finn-tarrow", "password": PASSWORD, "next": wanted}
                answer = self.client.post("/sign-in/", given)
                self.assertRedirects(answer, landed, fetch_redirect_response=False)

    def test_switching_off_a_tablet_leads_to_the_password(self):
        answer = self.client.get("/switch/?next=/bench/")
        self.assertRedirects(answer, "/sign-in/?next=%2Fbench%2F", fetch_redirect_response=False)

    def test_a_form_without_its_proof_of_origin_changes_nothing(self):
        strict = Client(enforce_csrf_checks=True)
        answer = strict.post("/sign-in/", {"sign_in_name": "finn-tarrow", "password": PASSWORD})
        assert answer.status_code == 403
        assert SESSION_KEY not in strict.session


class OnTheTabletTests(TestCase):
    def setUp(self):
        cast.shop()
        self.bench = cast.department()
        self.tablet = Tablet.objects.create(name="Refinishing tablet", department=self.bench)
        cast.on_tablet(self.client, self.tablet)
        self.finn = someone(home=self.bench)

    def pin(self, who: Person, pin: str = PIN, **more: str):
        return self.client.post(f"/sign-in/pin/{who.pk}/", {"pin": pin} | more)

    def test_names_of_its_own_department_come_first_then_everybody_else(self):
        helper = someone("Ada Lund")
        helper.benches.add(self.bench)
        someone("Bea Cole")
        someone("Gone Person", is_active=False)
        someone("Stray Visitor", Role.STRANGER)
        self.client.get("/sign-in/")  # the first of a minute also notes that the tablet is alive
        with self.assertNumQueries(4):  # shop, tablet, people, benches
            page = self.client.get("/sign-in/")
        assert [p.name for p in page.context["near"]] == ["Ada Lund", "Finn Tarrow"]
        assert [p.name for p in page.context["others"]] == ["Bea Cole"]

    def test_a_pin_opens_the_shop_and_leads_back_to_the_page(self):
        answer = self.pin(self.finn, next="/bench/refinishing/")
        self.assertRedirects(answer, "/bench/refinishing/", fetch_redirect_response=False)
        assert self.client.session[presence.BY_PIN]

    def test_a_wrong_or_misshapen_pin_does_not(self):
        for typed, words in [
            ("407916", "not the PIN"),
            ("4079", "six digits"),
            ("", "Type the six digits"),
            ("٤٠٧٩١٥", "six digits"),
            ("40791５", "six digits"),
        ]:
            with self.subTest(typed):
                self.assertContains(self.pin(self.finn, typed), words, status_code=422)
        assert SESSION_KEY not in self.client.session
        assert SignInTry.objects.count() == 1, "only six digits are a try"

    def test_stopped_people_and_strangers_have_no_pin_page(self):
        for who in (someone("Gone Person", is_active=False), someone("Stray Visitor", Role.STRANGER)):
            assert self.pin(who).status_code == 404
        assert self.client.get("/sign-in/pin/999999/").status_code == 404

    def test_someone_without_a_pin_is_told_what_to_do(self):
        nobody = cast.person("Newly Come")
        self.assertContains(self.client.get(f"/sign-in/pin/{nobody.pk}/"), "has no PIN yet")
        assert self.pin(nobody, "000000").status_code == 422

    def test_a_manager_by_pin_is_a_bench_hand_and_is_told_so(self):
        maud = someone("Maud Ferrier", Role.MANAGER)
        self.assertContains(self.client.get(f"/sign-in/pin/{maud.pk}/"), "you work as a bench hand")
        self.pin(maud)
        page = self.client.get("/switch/")
        assert page.context["user"].acting_role == Role.HAND
        self.assertContains(page, "bench hand’s rights")

    def test_a_manager_by_password_on_a_tablet_is_a_manager(self):
        someone("Maud Ferrier", Role.MANAGER)
        self.client.post("/sign-in/?with=password", {"sign_in_name": "maud-ferrier", "password": PASSWORD})
        assert self.client.get("/switch/").context["user"].acting_role == Role.MANAGER

    def test_every_sign_in_and_every_switch_has_a_new_key(self):
        self.client.get("/sign-in/")
        self.pin(self.finn)
        first = self.client.session.session_key
        ada = someone("Ada Lund")
        self.assertContains(self.client.get("/switch/"), "Still signed in")
        self.pin(ada)
        second = self.client.session.session_key
        self.pin(ada)
        third = self.client.session.session_key
        assert len({first, second, third}) == 3
        assert not Session.objects.filter(session_key__in=[first, second]).exists()

    def test_a_wrong_pin_while_switching_leaves_the_one_who_is_here(self):
        self.pin(self.finn)
        self.pin(someone("Ada Lund"), "111112")
        assert self.client.session[SESSION_KEY] == str(self.finn.pk)

    def test_going_out_ends_it_on_the_server_and_spares_the_unsent_taps(self):
        self.pin(self.finn)
        key = self.client.session.session_key
        assert self.client.get("/sign-out/").status_code == 405
        answer = self.client.post("/sign-out/")
        assert answer.headers["Clear-Site-Data"] == '"cache"'
        assert not Session.objects.filter(session_key=key).exists()

    def test_the_pin_is_a_plain_numeric_field_without_scripts(self):
        page = self.client.get(f"/sign-in/pin/{self.finn.pk}/")
        self.assertContains(page, 'inputmode="numeric"')
        self.assertContains(page, 'id="keypad" hidden')


class GuessingTests(TestCase):
    def setUp(self):
        cast.shop()
        self.here, self.there = (cast.on_tablet(Client(), cast.tablet(name)) for name in ("Here", "There"))
        self.finn = someone()
        self.url = f"/sign-in/pin/{self.finn.pk}/"
        self.start = clock.now()

    def wrong_tries(self, browser: Client, count: int, after: timedelta = timedelta(0)) -> list[int]:
        with clock.at(self.start + after):
            return [browser.post(self.url, {"pin": "999910"}).status_code for _ in range(count)]

    def test_ten_wrong_tries_are_looked_at_and_the_eleventh_is_not(self):
        assert self.wrong_tries(self.here, 12) == [422] * 10 + [429] * 2
        with clock.at(self.start + timedelta(minutes=3)):
            answer = self.here.post(self.url, {"pin": PIN})
        self.assertContains(answer, "Try again in 12 min", status_code=429)
        assert SignInTry.objects.count() == 10

    def test_the_person_goes_on_working_on_another_tablet(self):
        self.wrong_tries(self.here, 11)
        assert self.there.post(self.url, {"pin": PIN}).status_code == 302

    def test_another_person_goes_on_working_on_the_same_tablet(self):
        self.wrong_tries(self.here, 11)
        ada = someone("Ada Lund")
        assert self.here.post(f"/sign-in/pin/{ada.pk}/", {"pin": PIN}).status_code == 302

    def test_after_the_rest_the_right_pin_counts_again(self):
        self.wrong_tries(self.here, 11)
        with clock.at(self.start + timedelta(minutes=15, seconds=1)):
            assert self.here.post(self.url, {"pin": PIN}).status_code == 302

    def test_any_fifteen_minutes_hold_at_most_ten_wrong_tries(self):
        device, looked_at = Device("tablet:1", is_tablet=True), []
        for half_minute in range(120):
            with clock.at(self.start + timedelta(seconds=30 * half_minute)), suppress(throttle.TooManyTries):
                throttle.take_turn(who=self.finn.sign_in_name, device=device)
                looked_at.append(half_minute)
        for first in range(120):
            assert sum(first <= one < first + 30 for one in looked_at) <= 10
        assert len(looked_at) > 30, "the lock must also end"

    def test_one_address_cannot_go_through_the_whole_list_of_names(self):
        codes = [
            self.client.post("/sign-in/", {"sign_in_name": f"name-{n}", "password": "wrong"}).status_code
            for n in range(62)
        ]
        assert codes == [422] * 60 + [429] * 2

    def test_a_forged_address_changes_nothing(self):
        for n in range(10):
            self.client.post("/sign-in/", {"sign_in_name": "finn-tarrow", "password": "wrong"})
            assert SignInTry.objects.filter(device="address:127.0.0.1").count() == n + 1
        headers = {"X-Forwarded-For": "10.9.8.7"}
        given = {"sign_in_name": "finn-tarrow", "password": "wrong"}
        assert self.client.post("/sign-in/", given, headers=headers).status_code == 429

    def test_behind_the_shops_own_proxy_only_its_word_counts(self):
        headers = {"X-Forwarded-For": "1.2.3.4, 10.0.0.5", "X-Forwarded-Proto": "https"}
        with self.settings(HTTPS=True):
            self.client.post("/sign-in/", {"sign_in_name": "a", "password": "b"}, headers=headers)
        assert SignInTry.objects.get().device == "address:10.0.0.5"


class LeftAloneTests(TestCase):
    def setUp(self):
        cast.shop()
        self.finn = someone()
        self.tablet = cast.tablet()
        cast.on_tablet(self.client, self.tablet)
        self.start = clock.now()
        with clock.at(self.start):
            self.client.post(f"/sign-in/pin/{self.finn.pk}/", {"pin": PIN})

    def here_after(self, browser: Client | None = None, **ago: float) -> bool:
        headers = {"X-Poll": "1"} if ago.pop("poll", 0) else {}
        with clock.at(self.start + timedelta(**ago)):
            page = (browser or self.client).get("/switch/", headers=headers, follow=True)
        return page.context["user"].is_authenticated

    def test_a_tablet_nobody_touches_forgets_its_person_after_a_quarter_of_an_hour(self):
        assert self.here_after(minutes=14)
        assert self.here_after(minutes=28)
        assert not self.here_after(minutes=44)

    def test_a_page_that_keeps_itself_fresh_is_not_a_person(self):
        for minute in range(1, 15):
            assert self.here_after(minutes=minute, poll=1)
        assert not self.here_after(minutes=15.1, poll=1)

    def test_nobody_stays_longer_than_twelve_hours(self):
        for quarter in range(1, 4 * 12 + 1):
            assert self.here_after(minutes=quarter * 14.99)
        assert not self.here_after(hours=12.02)

    def test_at_a_desk_there_is_no_name_screen_but_twelve_hours_hold_too(self):
        desk = Client()
        with clock.at(self.start):
            desk.post("/sign-in/", {"sign_in_name": "finn-tarrow", "password": PASSWORD})
        assert self.here_after(desk, hours=11.9)
        assert not self.here_after(desk, hours=12.1)

    def test_a_pin_presence_does_not_outlive_its_tablet(self):
        Tablet.objects.filter(pk=self.tablet.pk).update(token_hash=None, revoked_at=clock.now())
        assert not self.here_after(minutes=1)

    def test_a_pin_presence_carried_to_another_device_is_over(self):
        other = Client()
        other.cookies = self.client.cookies.copy()
        del other.cookies["tablet"]
        assert not self.here_after(other, minutes=1)

    def test_htmx_that_meets_the_end_fills_the_window_and_comes_back_to_the_same_page(self):
        with clock.at(self.start + timedelta(minutes=16)):
            headers = {"HX-Request": "true", "HX-Current-URL": "http://testserver/floor/?only=stopped"}
            answer = self.client.get("/me/", headers=headers)
        assert answer.headers["HX-Redirect"] == "/sign-in/?next=/floor/%3Fonly%3Dstopped"
        assert answer.content == b""

    def test_the_tablet_is_noted_as_seen_once_a_minute_at_most(self):
        def seen_after(seconds: int):
            with clock.at(self.start + timedelta(seconds=seconds)):
                self.client.get("/sign-in/")
            return Tablet.objects.get(pk=self.tablet.pk).seen_at

        assert seen_after(10) == seen_after(50)
        assert seen_after(70) == self.start + timedelta(seconds=70)


@pytest.mark.parametrize("pin", ["000000", "123456", "654321", "890123", "121212", "123123", "112233"])
def test_pins_that_everybody_tries_first_cannot_be_chosen(pin):
    with pytest.raises(pins.PinRefused, match="easy to guess"):
        pins.check_choice(pin)


@pytest.mark.parametrize("pin", ["198704", "041987", "123321", "147258", "110011"])
def test_nor_years_mirrors_and_paths_over_the_keys(pin):
    with pytest.raises(pins.PinRefused, match="easy to guess"):
        pins.check_choice(pin)


@pytest.mark.parametrize("pin", ["", "12345", "4079150", "40791a", "٤٠٧٩١٥"])
def test_a_pin_is_six_plain_digits(pin):
    with pytest.raises(pins.PinRefused, match="six digits"):
        pins.check_choice(pin)


def test_most_pins_can_be_chosen():
    def free(number: int) -> bool:
        try:
            pins.check_choice(f"{number:06d}")
        except pins.PinRefused:
            return False
        return True

    share = sum(map(free, range(0, 1_000_000, 7))) / len(range(0, 1_000_000, 7))
    assert 0.95 < share < 0.99


def test_what_is_kept_of_a_pin_is_of_no_use_without_the_shops_secret(settings):
    kept = pins.make(PIN)
    assert pins.matches(PIN, kept)
    assert not pins.matches("407916", kept)
    settings.SECRET_KEY = "another shop's secret, long enough to be taken for one"
    assert not pins.matches(PIN, kept)


def test_a_pin_survives_a_change_of_the_secret_and_is_kept_anew(settings):
    kept = pins.make(PIN)
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "the new secret of this shop, long enough to be one, too"
    fresh: list[str] = []
    assert pins.matches(PIN, kept, renew=fresh.append)
    settings.SECRET_KEY_FALLBACKS = []
    assert pins.matches(PIN, fresh[0])
