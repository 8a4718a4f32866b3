"""Taking an instrument in, and changing what is known of it."""

from __future__ import annotations

from datetime import date, timedelta

from django.test import TestCase
from django.urls import reverse

from shopflow.catalogue.models import Route, RouteStep
from shopflow.common import clock
from shopflow.customers.models import Customer
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Passage, Task
from tests import cast

ZERO_WIDTH, OVERRIDE = "\u200b", "\u202e"


class DoorCase(TestCase):
    def setUp(self):
        cast.shop()
        self.maud = cast.manager()
        self.client.force_login(self.maud)
        self.today = clock.today()

    def typed(self, **given):
        facts = {"number": "501", "kind": "upright", "maker": "Bexcombe", "arrived_on": f"{self.today}"}
        return facts | given

    def send(self, **given):
        return self.client.post(reverse("workshop:take-in"), self.typed(**given))

    def assert_refused(self, answer, field, words):
        assert answer.status_code == 422
        assert words in " ".join(answer.context["form"].errors.get(field, []))
        assert not Instrument.objects.filter(number="501").exists()


class TakeInTests(DoorCase):
    def test_strangers_and_hands_stay_outside(self):
        url = reverse("workshop:take-in")
        self.client.logout()
        self.assertRedirects(self.client.get(url), f"/sign-in/?next={url}")
        for outsider in (cast.stranger(), cast.finisher()):
            self.client.force_login(outsider)
            assert self.client.get(url).status_code == 403
            assert self.client.post(url, self.typed()).status_code == 403
        assert not Instrument.objects.exists()

    def test_a_manager_by_pin_has_a_hands_rights(self):
        cast.by_pin(self.client, self.maud)
        assert self.client.get(reverse("workshop:take-in")).status_code == 403

    def test_the_next_number_is_proposed(self):
        cast.instrument(number="213")
        page = self.client.get(reverse("workshop:take-in"))
        assert page.context["form"].initial["number"] == "214"

    def test_it_stands_in_the_house_with_its_passage(self):
        answer = self.send(serial="40117", year_built="1904", size_cm="128", place="bay 2", fragile="lid pin")
        self.assertRedirects(answer, "/instruments/501/")
        made = Instrument.objects.get(number="501")
        assert (made.year_built, made.size_cm, made.arrived_on) == (1904, 128, self.today)
        assert Passage.objects.get(instrument=made).kind == Passage.Kind.ARRIVED

    def test_an_owner_may_be_chosen_or_written_down(self):
        known = Customer.objects.create(name="Hester Gaunt")
        self.send(customer=known.pk)
        self.send(
            number="502", owner_name="Osric Mossop", owner_phone="0123", owner_email="o@quillmere.example"
        )
        assert Instrument.objects.get(number="501").customer == known
        assert Instrument.objects.get(number="502").customer.name == "Osric Mossop"

    def test_an_owner_is_not_both_chosen_and_written_down(self):
        known = Customer.objects.create(name="Hester Gaunt")
        self.assert_refused(self.send(customer=known.pk, owner_name="Osric"), "customer", "not both")
        self.assert_refused(self.send(owner_phone="0123"), "owner_name", "needs a name")
        assert Customer.objects.count() == 1

    def test_a_route_is_started_at_once(self):
        route = self.route("upright")
        self.send(route=route.pk)
        assert Task.objects.filter(instrument__number="501").count() == 1

    def test_a_route_for_the_other_kind_is_refused(self):
        self.assert_refused(self.send(route=self.route("grand").pk), "route", "is a route for grands")

    def route(self, kind):
        route = Route.objects.create(code="A", name="Full rebuild", kind=kind)
        RouteStep.objects.create(route=route, operation=cast.operation(), position=0)
        return route

    def test_a_number_is_given_once_in_whatever_letters(self):
        cast.instrument(number="B-12")
        answer = self.send(number="b-12")
        assert answer.status_code == 422
        assert "another instrument already" in answer.content.decode()

    def test_what_was_typed_is_kept(self):
        answer = self.send(year_built="1066", alterations="legs shortened")
        self.assert_refused(answer, "year_built", "allowed is 1700 to 2100")
        self.assertContains(answer, "legs shortened", status_code=422)
        self.assertContains(answer, 'value="1066"', status_code=422)

    def test_figures_and_days_out_of_range_are_named(self):
        tomorrow = self.today + timedelta(days=1)
        for field, value, words in (
            ("year_built", "9999", "1700 to 2100"),
            ("year_built", str(self.today.year + 1), f"1700 to {self.today.year}"),
            ("year_built", "9" * 5000, "1700 to 2100"),
            ("size_cm", "-120", "80 to 320"),
            ("size_cm", "1e3", "80 to 320"),
            ("arrived_on", "2026-02-30", "no such day"),
            ("arrived_on", "0001-01-01", "2000-01-01 to 2099-12-31"),
            ("arrived_on", f"{tomorrow}", "in the future"),
            ("promised_on", "9999-12-31", "2000-01-01 to 2099-12-31"),
            ("promised_on", f"{self.today - timedelta(days=1)}", "before it arrived"),
            ("kind", "harpsichord", "Select a valid choice"),
            ("number", "5 01", "Letters, digits and hyphens only"),
            ("number", "new", "choose another"),
            ("maker", "x" * 61, "at most 60"),
            ("customer", "999999", "Select a valid choice"),
        ):
            with self.subTest(field=field, value=value[:12]):
                self.assert_refused(self.send(**{field: value}), field, words)

    def test_letters_that_cannot_be_seen_are_taken_out(self):
        self.send(maker=f"Bex{ZERO_WIDTH}combe{OVERRIDE}\x07", place="bay\n\n2", finish="a" + "\u0301" * 200)
        made = Instrument.objects.get(number="501")
        assert (made.maker, made.place) == ("Bexcombe", "bay 2")
        assert len(made.finish) < 6

    def test_a_number_of_letters_that_cannot_be_seen_is_none(self):
        self.assert_refused(self.send(number=ZERO_WIDTH * 3), "number", "required")

    def test_nul_does_no_harm(self):
        answer = self.send(maker="Bex\0combe")
        assert answer.status_code in (302, 422)
        assert not any("\0" in made.maker for made in Instrument.objects.all())

    def test_marks_of_other_languages_are_shown_as_text(self):
        self.send(maker="<script>alert(1)</script>", place="{{7*7}}")
        page = self.client.get("/instruments/501/")
        self.assertContains(page, "&lt;script&gt;alert(1)")
        self.assertNotContains(page, "<script>alert")
        self.assertContains(page, "{{7*7}}")

    def test_fields_that_are_not_asked_for_are_ignored(self):
        self.send(
            finished_on="2020-01-01", left_on="2020-01-01", version="99", id="7", created_at="2020-01-01"
        )
        made = Instrument.objects.get(number="501")
        assert (made.finished_on, made.left_on, made.version) == (None, None, 1)


class LookalikeTests(DoorCase):
    def setUp(self):
        super().setUp()
        self.known = cast.instrument(number="214", serial="4O 117a")

    def test_a_serial_in_another_spelling_is_asked_about(self):
        for spelling in ("40117A", "4o-117 A", " 40 117a "):
            with self.subTest(spelling=spelling):
                answer = self.send(serial=spelling)
                self.assert_refused(answer, "another_one", "looks like instrument 214")
                self.assertContains(answer, "This is not instrument 214", status_code=422)

    def test_it_is_taken_in_once_the_tick_says_it_is_another_one(self):
        self.send(serial="40117A", another_one=[self.known.pk])
        assert Instrument.objects.get(number="501").serial == "40117A"
        self.known.refresh_from_db()
        assert self.known.serial == "4O 117a"

    def test_the_tick_for_one_does_not_count_for_another(self):
        other = cast.instrument(number="215", serial="401-17A")
        self.assert_refused(
            self.send(serial="40117A", another_one=[other.pk]), "another_one", "instrument 214."
        )

    def test_other_serials_and_none_are_not_asked_about(self):
        assert self.send(serial="40118").status_code == 302
        assert self.send(number="502", serial="").status_code == 302


class ChangeFactsTests(DoorCase):
    def setUp(self):
        super().setUp()
        self.piano = cast.instrument(by=self.maud, number="501", maker="Bexcombe", serial="40117")
        self.url = reverse("workshop:facts", args=["501"])

    def change(self, **given):
        facts = {"number": "501", "kind": "upright", "maker": "Bexcombe", "serial": "40117", "version": "1"}
        return self.client.post(self.url, facts | given)

    def test_strangers_and_hands_stay_outside(self):
        for outsider in (cast.stranger(), cast.finisher()):
            self.client.force_login(outsider)
            assert self.client.get(self.url).status_code == 403
            assert self.change(maker="Other").status_code == 403

    def test_a_change_is_kept_and_counted(self):
        self.assertRedirects(self.change(maker="Thistledown"), "/instruments/501/")
        self.piano.refresh_from_db()
        assert (self.piano.maker, self.piano.version) == ("Thistledown", 2)

    def test_its_own_serial_and_number_are_no_lookalikes(self):
        assert self.change(finish="oak").status_code == 302

    def test_the_second_saver_sees_both_versions_and_keeps_what_was_typed(self):
        self.change(maker="Thistledown")
        answer = self.change(maker="Corvane Brothers", finish="oak")
        assert answer.status_code == 409
        assert ("Maker", "Thistledown", "Corvane Brothers") in answer.context["differing"]
        self.assertContains(answer, 'value="Corvane Brothers"', status_code=409)
        self.piano.refresh_from_db()
        assert (self.piano.maker, self.piano.finish) == ("Thistledown", "")

    def test_saving_once_more_puts_it_in_place(self):
        self.change(maker="Thistledown")
        again = self.change(maker="Corvane Brothers").context["form"]["version"].value()
        self.assertRedirects(self.change(maker="Corvane Brothers", version=again), "/instruments/501/")
        self.piano.refresh_from_db()
        assert self.piano.maker == "Corvane Brothers"

    def test_sending_the_same_change_twice_is_no_clash(self):
        self.change(maker="Thistledown")
        assert self.change(maker="Thistledown").status_code == 302

    def test_no_version_is_never_an_overwrite(self):
        assert self.change(maker="Other", version="").status_code == 422
        self.piano.refresh_from_db()
        assert self.piano.maker == "Bexcombe"

    def test_a_clash_writes_down_no_new_owner(self):
        self.change(maker="Thistledown")
        assert self.change(owner_name="Osric Mossop").status_code == 409
        assert not Customer.objects.exists()


class PromiseLeaveReturnTests(DoorCase):
    def setUp(self):
        super().setUp()
        self.piano = cast.instrument(by=self.maud, number="501")

    def post(self, name, **given):
        return self.client.post(reverse(f"workshop:{name}", args=["501"]), given)

    def test_hands_do_none_of_it(self):
        self.client.force_login(cast.finisher())
        for name in ("promise", "leave", "return"):
            assert self.post(name).status_code == 403

    def test_a_date_is_promised_and_taken_back(self):
        self.post("promise", promised_on="2027-03-01", version="1")
        self.piano.refresh_from_db()
        assert self.piano.promised_on == date(2027, 3, 1)
        self.post("promise", promised_on="", version="2")
        self.piano.refresh_from_db()
        assert self.piano.promised_on is None

    def test_a_promise_made_on_an_old_page_shows_both(self):
        self.post("promise", promised_on="2027-03-01", version="1")
        answer = self.post("promise", promised_on="2027-04-01", version="1")
        self.assertContains(answer, "1 Mar 2027", status_code=409)
        self.assertContains(answer, 'value="2027-04-01"', status_code=409)

    def test_unfinished_it_leaves_only_with_a_reason_and_comes_back(self):
        answer = self.post("leave")
        self.assertContains(answer, "needs a reason", status_code=422)
        self.post("leave", reason="sold as it stands")
        self.piano.refresh_from_db()
        assert self.piano.left_on == self.today
        self.assertRedirects(self.post("return", on=f"{self.today}"), "/instruments/501/")
        self.piano.refresh_from_db()
        assert self.piano.left_on is None

    def test_what_is_in_the_house_cannot_come_back(self):
        answer = self.post("return", on=f"{self.today}")
        self.assertContains(answer, "in the house already", status_code=422)
