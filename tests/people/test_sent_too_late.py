"""The sign-in ended, or the page grew old, while a form was filled: nothing is lost, nor shown to others."""

from __future__ import annotations

from datetime import timedelta

from django.contrib.auth import SESSION_KEY
from django.test import Client, TestCase
from django.urls import reverse

from shopflow.common import clock
from shopflow.people import pins, presence
from shopflow.people.models import Person, Role, Tablet
from tests import cast

PASSWORD = "felt on the rail"
ORIGIN = {"Origin": "http://testserver"}


class SentTooLateTests(TestCase):
    def setUp(self):
        cast.shop()
        self.maud = cast.person("Maud Ferrier", Role.MANAGER, password=PASSWORD)
        self.start = clock.now()
        self.sign_in(self.client, self.maud)
        self.url = reverse("people:tablets")
        self.typed = {"name": "Tablet by the <b>door</b>", "department": "", "pixels_per_mm": "6.10"}

    def sign_in(self, browser: Client, who: Person, after: float = 0, **more: str):
        with clock.at(self.start + timedelta(hours=after)):
            given = {"sign_in_name": who.sign_in_name, "password": PASSWORD} | more
            return browser.post("/sign-in/", given)

    def send(self, after: float = 13, data: dict[str, str] | None = None, **headers: str):
        with clock.at(self.start + timedelta(hours=after)):
            return self.client.post(self.url, data or self.typed, headers=headers)

    def page(self, after: float = 13.1):
        with clock.at(self.start + timedelta(hours=after)):
            return self.client.get("/not-sent-yet/")

    def test_a_stranger_signs_in_first_and_finds_nothing(self):
        assert Client().get("/not-sent-yet/").status_code == 302
        self.assertRedirects(self.page(1), "/", fetch_redirect_response=False)

    def test_what_was_typed_is_offered_after_signing_in_and_one_tap_sends_it(self):
        answer = self.send()
        assert answer.headers["Location"].startswith("/sign-in/")
        assert not Tablet.objects.exists()
        back = self.sign_in(self.client, self.maud, after=13.1, next="/floor/")
        self.assertRedirects(back, "/not-sent-yet/", fetch_redirect_response=False)
        page = self.page()
        self.assertContains(page, "Tablet by the &lt;b&gt;door&lt;/b&gt;")
        self.assertContains(page, f'action="{self.url}"')
        again = dict(page.context["kept"].fields)
        assert again == self.typed
        with clock.at(self.start + timedelta(hours=13.2)):
            assert self.client.post(self.url, again).status_code == 302
        assert Tablet.objects.get().name == self.typed["name"]
        self.assertRedirects(self.page(13.3), "/", fetch_redirect_response=False)

    def test_a_form_that_is_refused_on_sending_stays_until_it_is_taken_or_thrown_away(self):
        self.send(data=self.typed | {"pixels_per_mm": "99"})
        self.sign_in(self.client, self.maud, after=13.1)
        assert self.send(13.2, self.typed | {"pixels_per_mm": "99"}).status_code == 422
        assert self.page(13.3).status_code == 200
        with clock.at(self.start + timedelta(hours=13.3)):
            assert self.client.post("/not-sent-yet/throw-away/").status_code == 302
        assert self.page(13.4).status_code == 302

    def test_nobody_else_on_the_same_device_is_shown_it_and_its_person_still_finds_it(self):
        self.send()
        ada = cast.person("Ada Lund", password=PASSWORD)
        self.assertRedirects(self.sign_in(self.client, ada, after=13.1), "/", fetch_redirect_response=False)
        assert self.page(13.2).status_code == 302
        assert self.sign_in(self.client, self.maud, after=13.3).headers["Location"] == "/not-sent-yet/"
        self.assertContains(self.page(13.4), "6.10")

    def test_after_a_day_it_is_gone(self):
        self.send()
        assert self.sign_in(self.client, self.maud, after=38).headers["Location"] == "/"

    def test_going_out_lets_it_go(self):
        self.send()
        self.client.post("/sign-out/")
        assert self.sign_in(self.client, self.maud, after=13.2).headers["Location"] == "/"

    def test_keys_and_very_long_texts_are_never_held(self):
        for url, data in [
            (reverse("people:me-password"), {"now": PASSWORD, "new": "quill and felt 9"}),
            (self.url, {"name": "x" * 20_001}),
        ]:
            with self.subTest(url):
                self.sign_in(self.client, self.maud)
                with clock.at(self.start + timedelta(hours=13)):
                    self.client.post(url, data)
                assert "held" not in self.client.session

    def test_on_a_tablet_it_waits_for_the_pin(self):
        finn = cast.person("Finn Tarrow", pin_hash=pins.make("407915"), home=cast.department())
        task = cast.task(cast.operation(), on=cast.instrument(by=self.maud), by=self.maud)
        tablet = cast.by_pin(Client(), finn)
        session = tablet.session
        session[presence.SEEN] = self.start.timestamp()
        session.save()
        tap = {"key": "tap-of-a-slow-hand", "hours": "1.5"}
        with clock.at(self.start + timedelta(minutes=20)):
            answer = tablet.post(reverse("workshop:hours", args=[task.pk]), tap)
            assert answer.headers["Location"].startswith("/sign-in/")
            answer = tablet.post(f"/sign-in/pin/{finn.pk}/", {"pin": "407915"})
            self.assertRedirects(answer, "/not-sent-yet/")
            tablet.post(reverse("workshop:hours", args=[task.pk]), tap)
        assert task.hours_spent.get().hours == 1.5


class PageTooOldTests(TestCase):
    """Somebody signed in again in another window: the form's proof of origin no longer fits."""

    def setUp(self):
        cast.shop()
        self.maud = cast.manager()
        self.strict = Client(enforce_csrf_checks=True)
        self.strict.force_login(self.maud)

    def send(self, **headers: str):
        given = {"name": "By the door", "pixels_per_mm": "5.2"}
        return self.strict.post(reverse("people:tablets"), given, headers=headers)

    def test_our_own_old_page_is_offered_again(self):
        self.assertRedirects(self.send(**ORIGIN), "/not-sent-yet/")
        self.assertContains(self.strict.get("/not-sent-yet/"), "By the door")
        assert not Tablet.objects.exists()
        self.assertRedirects(self.send(**ORIGIN), "/not-sent-yet/")

    def test_htmx_is_led_there_in_the_whole_window(self):
        answer = self.send(**ORIGIN, **{"HX-Request": "true"})
        assert answer.headers["HX-Redirect"] == "/not-sent-yet/"

    def test_a_form_from_elsewhere_or_from_nowhere_is_only_refused(self):
        for headers in ({"Origin": "https://elsewhere.example"}, {"Origin": "null"}, {}):
            answer = self.send(**headers)
            self.assertContains(answer, "too old", status_code=403)
            assert "held" not in self.strict.session

    def test_a_script_that_keeps_its_own_taps_hears_the_plain_refusal(self):
        assert self.send(**ORIGIN, Accept="application/json").status_code == 403

    def test_without_a_person_nothing_is_held(self):
        nobody = Client(enforce_csrf_checks=True)
        assert nobody.post("/set-up/tablets/", {"name": "X"}, headers=ORIGIN).status_code == 403
        assert SESSION_KEY not in nobody.session


class NotYoursTests(TestCase):
    def test_a_manager_by_pin_is_offered_the_password(self):
        cast.shop()
        page = cast.by_pin(Client(), cast.manager()).get("/set-up/people/")
        self.assertContains(page, "sign in with your password", status_code=403)
        page = cast.by_pin(Client(), cast.finisher()).get("/set-up/people/")
        self.assertNotContains(page, "sign in with your password", status_code=403)
        self.assertContains(page, "Finn Tarrow may not change people and tablets", status_code=403)
