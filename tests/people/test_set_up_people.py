"""Set-up of people: who may change whom, what a stop ends, and that a shop keeps an owner."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.models import Session
from django.test import Client, TestCase

from shopflow.people import access, pins, selectors, throttle
from shopflow.people.devices import Device
from shopflow.people.models import Person, Role
from shopflow.people.services import keys, staff
from tests import cast

PEOPLE = "/set-up/people/"


def signed_in(who: Person) -> Client:
    browser = Client()
    browser.force_login(who)
    return browser


def typed(who: Person, **changed: object) -> dict[str, object]:
    """The form of this person as its page shows it, with some of it typed over."""
    days = {day.weekday: day.hours for day in who.working_days.all()}
    return {
        "name": who.name,
        "sign_in_name": who.sign_in_name,
        "role": who.role,
        "home": who.home_id or "",
        "benches": [bench.pk for bench in who.benches.all()],
        "email": who.email,
        "seen": staff.version_of(who),
        **{f"hours_{day}": days.get(day, "") for day in range(7)},
        **changed,
    }


class PeopleTests(TestCase):
    def setUp(self):
        cast.shop()
        self.bench = cast.department()
        self.owner, self.manager = cast.owner(), cast.manager()
        self.finn = cast.finisher()
        self.url = f"{PEOPLE}{self.finn.pk}/"
        self.office = signed_in(self.manager)

    def test_a_stranger_signs_in_first_and_a_hand_may_not(self):
        for url in (PEOPLE, f"{PEOPLE}add/", self.url):
            assert self.client.get(url).headers["Location"].startswith("/sign-in/?next=")
            assert signed_in(cast.stranger(f"Stray {url}")).get(url).status_code == 403
            assert signed_in(self.finn).get(url).status_code == 403
        assert cast.by_pin(Client(), self.manager).get(PEOPLE).status_code == 403

    def test_the_list_costs_the_same_for_three_as_for_thirty(self):
        def queries() -> int:
            with self.assertNumQueries(5):  # session, person, shop, people, their benches
                return len(self.office.get(PEOPLE).context["here"])

        assert queries() == 3
        for number in range(27):
            cast.person(f"Hand {number}", home=self.bench)
        assert queries() == 30

    def test_a_person_is_added_with_everything_that_is_known(self):
        new = Person(name="Ada Lund", role=Role.HAND, home=self.bench)
        given = {
            "name": "  Ada\u200b Lund ",
            "sign_in_name": "",
            "role": new.role,
            "home": self.bench.pk,
            "benches": [cast.department("action").pk],
            "email": "ada@quillmere.example",
            "hours_0": "8",
            "hours_4": "7,5",
        }
        answer = self.office.post(f"{PEOPLE}add/", given)
        ada = Person.objects.get(sign_in_name="ada-lund")
        self.assertRedirects(answer, f"{PEOPLE}{ada.pk}/")
        assert (ada.name, ada.home, ada.email) == ("Ada Lund", self.bench, "ada@quillmere.example")
        assert {day.weekday: day.hours for day in ada.working_days.all()} == {0: 8, 4: Decimal("7.5")}
        assert not ada.has_usable_password()
        assert access.may(ada, access.Deed.WORK_AT_BENCH, bench=cast.department("action"))

    def test_what_cannot_be_is_refused_by_its_field_and_what_was_typed_stays(self):
        for field, value, words in [
            ("name", "", "This field is required"),
            ("name", "\u200b\u202e", "This field is required"),
            ("name", "Maud Ferrier", "has this name already"),
            ("name", "x" * 61, "at most 60"),
            ("sign_in_name", "maud-ferrier", "signs in with this name already"),
            ("sign_in_name", "Finn Tarrow", "valid"),
            ("email", "not an address", "valid email"),
            ("role", "owner", "not one of the available choices"),
            ("role", "king", "not one of the available choices"),
            ("home", "999999", "not one of the available choices"),
            ("hours_0", "17", "0 to 16"),
            ("hours_0", "-3", "0 to 16"),
            ("hours_0", "NaN", "0 to 16"),
            ("hours_0", "1e400", "0 to 16"),
            ("hours_0", "٨", "0 to 16"),
        ]:
            with self.subTest(field=field, value=value):
                answer = self.office.post(self.url, typed(self.finn, **{field: value}))
                self.assertContains(answer, words, status_code=422)
                assert answer.context["form"].errors.keys() == {field}
                assert staff.facts_of(Person.objects.get(pk=self.finn.pk)) == staff.facts_of(self.finn)

    def test_markup_in_a_name_is_shown_as_text(self):
        self.office.post(self.url, typed(self.finn, name="<script>alert(1)</script>{{7*7}}"))
        page = self.office.get(PEOPLE)
        self.assertNotContains(page, "<script>alert")
        self.assertContains(page, "&lt;script&gt;alert(1)&lt;/script&gt;{{7*7}}")

    def test_a_missing_person_is_not_found(self):
        for way in ("", "pin/", "password/", "stop/", "back/", "release/"):
            assert self.office.post(f"{PEOPLE}999999/{way}").status_code == 404

    def test_two_who_change_one_person_both_see_both_versions(self):
        mine, theirs = (
            typed(self.finn, name="Finn A. Tarrow", hours_1="6"),
            typed(self.finn, email="finn@quillmere.example", hours_1="7.5"),
        )
        assert self.office.post(self.url, theirs).status_code == 302
        clash = self.office.post(self.url, mine)
        assert clash.status_code == 409
        self.assertContains(clash, "finn@quillmere.example", status_code=409)
        self.assertContains(clash, "Tuesday 7.5", status_code=409)
        self.assertContains(clash, 'value="Finn A. Tarrow"', status_code=409)
        assert Person.objects.get(pk=self.finn.pk).name == "Finn Tarrow"
        assert self.office.post(self.url, mine | {"seen": clash.context["seen"]}).status_code == 302
        assert Person.objects.get(pk=self.finn.pk).name == "Finn A. Tarrow"

    def test_the_same_change_sent_twice_is_no_clash_and_one_without_its_version_never_overwrites(self):
        change = typed(self.finn, name="Finn A. Tarrow")
        assert [self.office.post(self.url, change).status_code for _ in range(2)] == [302, 302]
        del change["seen"]
        assert self.office.post(self.url, change | {"name": "Other"}).status_code == 409

    def test_a_manager_changes_neither_an_owner_nor_another_manager(self):
        other = cast.manager("Nell Harker")
        for who in (self.owner, other):
            url = f"{PEOPLE}{who.pk}/"
            self.assertContains(self.office.get(url), "only an owner changes this person")
            before = Person.objects.get(pk=who.pk)
            pin = {"pin": "407915"}
            deeds = {"": typed(who, name="X"), "pin/": pin, "password/": {}, "stop/": {}, "back/": {}}
            for way, data in deeds.items():
                assert self.office.post(url + way, data).status_code == 403
            after = Person.objects.get(pk=who.pk)
            assert (after.name, after.password, after.pin_hash, after.is_active) == (
                before.name,
                before.password,
                before.pin_hash,
                True,
            )

    def test_a_manager_makes_nobody_manager_not_even_by_a_changed_form(self):
        self.assertNotContains(self.office.get(self.url), 'value="manager"')
        answer = self.office.post(self.url, typed(self.finn, role="manager"))
        assert answer.status_code == 422
        with pytest.raises(access.NotAllowed):
            staff.add_person(
                by=self.manager, name="N", sign_in_name="n", role=Role.MANAGER, benches=[], hours={}
            )

    def test_an_owner_gives_a_role_and_it_counts_at_once_on_open_tablets(self):
        browser = signed_in(self.finn)
        assert browser.get(PEOPLE).status_code == 403
        with self.assertLogs("shopflow.people.staff") as log:
            signed_in(self.owner).post(self.url, typed(self.finn, role="manager"))
        assert "finn-tarrow was hand, is manager" in log.output[0]
        assert browser.get(PEOPLE).status_code == 200
        self.finn.refresh_from_db()
        signed_in(self.owner).post(self.url, typed(self.finn, role="hand"))
        assert browser.get(PEOPLE).status_code == 403

    def test_a_shop_keeps_an_owner(self):
        owner = signed_in(self.owner)
        url = f"{PEOPLE}{self.owner.pk}/"
        self.assertContains(owner.get(url), "is the only owner who can come in")
        owner.post(f"{url}stop/")
        answer = owner.post(url, typed(self.owner, role="manager"))
        self.assertContains(answer, "A shop needs an owner", status_code=422)
        assert Person.objects.filter(role=Role.OWNER, is_active=True).count() == 1
        second = cast.owner("Oswin Pell")
        assert owner.post(f"{url}stop/").status_code == 302
        assert selectors.is_last_owner(second)

    def test_a_stopped_person_is_out_at_once_and_stays_out_after_coming_back(self):
        browsers = [signed_in(self.finn), cast.by_pin(Client(), self.finn)]
        bystander = signed_in(cast.person("Ada Lund"))
        assert self.office.post(f"{self.url}stop/").status_code == 302
        for browser in browsers:
            assert browser.get("/me/").headers["Location"].startswith("/sign-in/")
        self.office.post(f"{self.url}back/")
        for browser in browsers:
            assert browser.get("/me/").status_code == 302, "the old presence does not come back to life"
        assert bystander.get("/me/").status_code == 200
        assert signed_in(Person.objects.get(pk=self.finn.pk)).get("/me/").status_code == 200

    def test_a_pin_is_set_by_the_office_and_a_trivial_one_is_not(self):
        for trivial in ("000000", "123456", "198512"):
            answer = self.office.post(f"{self.url}pin/", {"pin": trivial})
            self.assertContains(answer, "easy to guess", status_code=422)
        assert Person.objects.get(pk=self.finn.pk).pin_hash == ""
        self.office.post(f"{self.url}pin/", {"pin": "407915"})
        assert pins.matches("407915", Person.objects.get(pk=self.finn.pk).pin_hash)

    def test_a_password_is_shown_once_works_and_leads_to_choosing_another(self):
        old = signed_in(self.finn)
        page = self.office.post(f"{self.url}password/")
        secret = page.context["secret"]
        self.assertContains(page, secret)
        assert re.fullmatch(r"[a-z]{5}(-[a-z]{5}){3}", secret)
        self.assertNotContains(self.office.get(self.url), secret)
        assert old.get("/me/").status_code == 302, "whoever came in with the old one is out"
        finn = Client()
        finn.post("/sign-in/", {"sign_in_name": "finn-tarrow", "password": secret, "next": PEOPLE})
        self.assertRedirects(finn.get("/"), "/me/")
        finn.post("/me/password/", {"now": secret, "new": "quill and felt 9"})
        assert finn.get("/switch/").status_code == 302
        assert not Person.objects.get(pk=self.finn.pk).password_handed_out

    def test_a_manager_releases_someone_who_has_to_wait(self):
        device = Device("tablet:7", is_tablet=True)
        for _ in range(10):
            throttle.take_turn(who=self.finn.sign_in_name, device=device)
        self.assertContains(self.office.get(self.url), "has to wait on tablet:7")
        self.office.post(f"{self.url}release/")
        throttle.take_turn(who=self.finn.sign_in_name, device=device)
        self.assertNotContains(self.office.get(self.url), "has to wait on")


class HoursTests(TestCase):
    def test_paid_hours_are_summed_by_home_bench_over_those_who_work_here(self):
        bench, other = cast.department(), cast.department("action")
        week = dict.fromkeys(range(5), Decimal("7.50"))
        for name, home, given in [
            ("Finn Tarrow", bench, {}),
            ("Ada Lund", bench, {}),
            ("Bea Cole", other, {}),
            ("No Home", None, {}),
            ("Stray Visitor", bench, {"role": Role.STRANGER}),
        ]:
            staff.create_person(
                name=name, sign_in_name=name.lower().replace(" ", "-"), home=home, hours=week, **given
            )
        gone = staff.create_person(name="Gone", sign_in_name="gone", home=other, hours=week)
        Person.objects.filter(pk=gone.pk).update(is_active=False)
        with self.assertNumQueries(1):
            assert selectors.weekly_hours_by_department() == {
                bench.pk: Decimal(75),
                other.pk: Decimal("37.5"),
            }


class OwnPageTests(TestCase):
    PASSWORD = "felt on the rail"

    def setUp(self):
        cast.shop()
        self.finn = cast.person("Finn Tarrow", password=self.PASSWORD, pin_hash=pins.make("407915"))
        self.here = signed_in(self.finn)

    def test_a_stranger_signs_in_first(self):
        assert self.client.get("/me/").status_code == 302
        assert self.client.post("/me/password/").status_code == 302
        assert self.client.post("/me/pin/").status_code == 302

    def test_a_new_password_ends_every_other_presence_and_keeps_this_one_under_a_new_key(self):
        elsewhere = signed_in(self.finn)
        before = self.here.session.session_key
        self.here.post("/me/password/", {"now": self.PASSWORD, "new": "quill and felt 9"})
        assert self.here.get("/me/").status_code == 200
        assert self.here.session.session_key != before
        assert not Session.objects.filter(session_key=before).exists()
        assert elsewhere.get("/me/").status_code == 302
        assert SESSION_KEY not in elsewhere.session

    def test_without_the_one_until_now_nothing_changes_and_guesses_are_counted(self):
        codes = [
            self.here.post("/me/password/", {"now": "guess", "new": "quill and felt 9"}).status_code
            for _ in range(11)
        ]
        assert codes == [422] * 10 + [429]
        assert Person.objects.get(pk=self.finn.pk).check_password(self.PASSWORD)

    def test_a_weak_password_is_refused_with_its_reason(self):
        for new, words in [
            ("short", "too short"),
            ("password123", "too common"),
            (self.PASSWORD, "have now"),
        ]:
            answer = self.here.post("/me/password/", {"now": self.PASSWORD, "new": new})
            self.assertContains(answer, words, status_code=422)

    def test_a_pin_is_changed_with_the_password_at_a_desk_and_with_the_pin_on_a_tablet(self):
        assert self.here.post("/me/pin/", {"now": "407915", "pin": "926408"}).status_code == 422
        assert self.here.post("/me/pin/", {"now": self.PASSWORD, "pin": "926408"}).status_code == 302
        tablet = cast.by_pin(Client(), Person.objects.get(pk=self.finn.pk))
        assert tablet.post("/me/pin/", {"now": "407915", "pin": "573046"}).status_code == 422
        assert tablet.post("/me/pin/", {"now": "926408", "pin": "573046"}).status_code == 302
        assert pins.matches("573046", Person.objects.get(pk=self.finn.pk).pin_hash)

    def test_nobody_makes_a_password_out_of_a_pin(self):
        hand = cast.person("Ada Lund", pin_hash=pins.make("407915"))
        tablet = cast.by_pin(Client(), hand)
        self.assertContains(tablet.get("/me/"), "Ask the office for one")
        answer = tablet.post("/me/password/", {"now": "407915", "new": "quill and felt 9"})
        assert answer.status_code == 422
        assert not Person.objects.get(pk=hand.pk).has_usable_password()


class KeysTests(TestCase):
    def test_a_password_handed_out_is_never_the_same_and_is_long(self):
        finn = cast.finisher()
        made = {keys.reset_password(person=finn) for _ in range(50)}
        assert len(made) == 50
        assert all(len(one) == 23 for one in made)
