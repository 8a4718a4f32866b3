"""The pages of a change order: the office writes and settles, the customer answers once."""

from __future__ import annotations

from datetime import timedelta

from django.core import mail
from django.test import Client, TestCase

from shopflow.common import clock
from shopflow.offers.models import ChangeAnswer, ChangeOrder, LeftAsFound
from shopflow.offers.services import answers, changes
from shopflow.photos.models import Photo
from tests import cast
from tests.photos import pictures

from .links import as_customer
from .shop import PRIVATE, Crack, signed_in, stopped


def typed_as_shown(answer) -> dict[str, object]:
    """What the form of the draft's page would send, as it stands."""
    form = answer.context["form"]
    data = {name: form.initial.get(name) for name in form.fields}
    for choice in answer.context["choices"]:
        data |= {f"{choice.kind}-{name}": choice.initial.get(name) for name in choice.fields}
    data["photo"] = getattr(data["photo"], "pk", "") or ""
    plain = {name: getattr(value, "pk", value) for name, value in data.items()}
    return {name: value for name, value in plain.items() if value not in (None, False)}


class OfficeTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()
        cls.list = f"/instruments/{cls.crack.instrument.number}/changes/"

    def setUp(self):
        self.office = signed_in(self.crack.manager)

    def begun(self):
        answer = self.office.post(f"{self.list}begin/", {"finding": self.crack.finding.pk})
        return answer.headers["Location"]

    def test_the_stranger_and_the_bench_stay_outside(self):
        change = self.crack.sent()
        for address in (self.list, f"{self.list}{change.number}/"):
            assert Client().get(address).status_code == 302
            for person in (cast.stranger(f"Stray {address[-2]}"), self.crack.hand):
                assert signed_in(person).get(address).status_code == 403

    def test_from_a_finding_to_the_customer(self):
        address = self.begun()
        typed = typed_as_shown(self.office.get(address)) | {
            "why_hidden": "It lay under the strings.",
            "then": "send",
            "do-price": "1,240",
        }
        answer = self.office.post(address, typed | {"mail_to": PRIVATE[1]})
        change = ChangeOrder.objects.get()
        (letter,) = mail.outbox
        assert letter.to == [PRIVATE[1]]
        assert letter.attachments[0][0] == f"change-order-214-{change.number}.pdf"
        way_in = next(line for line in letter.body.splitlines() if "/yours/" in line)
        browser = Client()
        browser.get(way_in)
        assert browser.get(f"/yours/changes/{change.number}/").status_code == 200
        assert way_in in answer.content.decode()
        assert change.state == "sent", answer.content.decode()
        assert change.frozen["choices"][0]["price"] == "£1,240"
        assert stopped(self.crack.instrument) == {"string-treble"}

    def test_begun_at_a_task_it_stops_that_task(self):
        task = self.crack.tasks["rub-out"]
        page = self.office.get(f"{self.list}?task={task.pk}").content.decode()
        assert f"“{task.name}”" in page
        self.office.post(f"{self.list}begin/", {"finding": self.crack.finding.pk, "task": task.pk})
        assert task in ChangeOrder.objects.get().stops.all()

    def test_what_stands_in_no_survey_is_written_down_once_and_asked_about(self):
        typed = {"kind": self.crack.kind.pk, "severity": "3", "key": "form-of-the-office", "words": "rib 4"}
        for _ in range(2):
            answer = self.office.post(f"{self.list}new/", typed)
            assert answer.status_code == 302, answer.content.decode()
        change = ChangeOrder.objects.get()
        assert (change.finding.kind, change.finding.words) == (self.crack.kind, "rib 4")
        assert change.choices.filter(kind="do", price=200).exists()

    def test_own_words_need_the_part_that_they_are_about(self):
        typed = {"name": "A coin under the keys", "severity": "1", "key": "form-of-the-office"}
        answer = self.office.post(f"{self.list}new/", typed)
        assert answer.status_code == 422
        assert "which part" in answer.content.decode()
        assert self.office.post(f"{self.list}new/", typed | {"group": self.crack.group.pk}).status_code == 302
        assert ChangeOrder.objects.get().finding.name == "A coin under the keys"

    def test_wrong_sums_and_days_are_told_with_what_is_allowed(self):
        address = self.begun()
        usual = typed_as_shown(self.office.get(address))
        for name, typed, words in (
            ("do-price", "-3", "0 to 99,999"),
            ("do-price", "1e400", "0 to 99,999"),
            ("do-price", "NaN", "0 to 99,999"),
            ("do-price", "100000", "0 to 99,999"),
            ("do-days_low", "-3", "0 to 999"),
            ("decide_by", "2026-02-30", "no such day"),
            ("decide_by", "2001-01-01", "today or later"),
        ):
            answer = self.office.post(address, usual | {name: typed})
            with self.subTest(name=name, typed=typed):
                assert answer.status_code == 422
                assert words in answer.content.decode()
                assert f'value="{typed}"' in answer.content.decode()

    def test_a_comma_before_the_pence_is_understood(self):
        address = self.begun()
        usual = typed_as_shown(self.office.get(address))
        self.office.post(address, usual | {"do-price": "1,5"})
        assert str(ChangeOrder.objects.get().choices.get(kind="do").price) == "1.50"

    def test_two_writers_the_second_sees_and_decides(self):
        address = self.begun()
        usual = typed_as_shown(self.office.get(address))
        self.office.post(address, usual | {"what": "First words."})
        answer = self.office.post(address, usual | {"what": "Second words."})
        assert answer.status_code == 409
        assert "Second words." in answer.content.decode()
        assert ChangeOrder.objects.get().what == "First words."
        again = typed_as_shown(answer) | {
            "what": "Second words.",
            "edition": answer.context["form"].data["edition"],
        }
        assert self.office.post(address, again).status_code == 302
        assert ChangeOrder.objects.get().what == "Second words."

    def test_an_answer_on_paper_is_entered_once(self):
        change = self.crack.sent()
        typed = {
            "choice": self.crack.choice(change, "leave").pk,
            "typed_name": "P. Vane-Quist",
            "fingerprint": change.fingerprint,
        }
        for _ in range(2):
            assert self.office.post(f"{self.list}{change.number}/answer/", typed).status_code == 302
        given = ChangeAnswer.objects.get()
        assert (given.entered_by, given.link) == (self.crack.manager, None)

    def test_the_number_of_another_instrument_leads_nowhere(self):
        change = self.crack.sent()
        other = cast.instrument(by=self.crack.manager, number="215")
        assert self.office.get(f"/instruments/{other.number}/changes/{change.number}/").status_code == 404

    def test_the_list_asks_as_often_for_one_as_for_many(self):
        self.crack.sent()
        with self.assertNumQueries(10):
            self.office.get(self.list)
        for number in range(4):
            self.crack.finding = self.crack.add_finding(f"Crack {number}")
            self.crack.sent()
        with self.assertNumQueries(10):
            self.office.get(self.list)

    def test_the_paper_is_a_pdf_and_a_draft_has_none(self):
        draft = self.crack.draft()
        assert self.office.get(f"{self.list}{draft.number}/paper.pdf").status_code == 404
        changes.send(change=draft, seen_edition=draft.edition, by=self.crack.manager)
        answer = self.office.get(f"{self.list}{draft.number}/paper.pdf")
        assert answer.content.startswith(b"%PDF-")


class CustomerTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()
        cls.other = cast.instrument(
            by=cls.crack.manager, number="215", customer=cast.customer("Somebody Else")
        )
        cls.change = cls.crack.sent()
        cls.address = f"/yours/changes/{cls.change.number}/"

    def setUp(self):
        self.customer = as_customer(self.crack.instrument, by=self.crack.manager)

    def say(self, kind="do", **given):
        typed = {
            "choice": self.crack.choice(self.change, kind).pk,
            "typed_name": "Perdita Vane-Quist",
            "fingerprint": self.change.fingerprint,
        }
        return self.customer.post(self.address, typed | given)

    def test_whoever_has_no_link_or_another_finds_nothing(self):
        someone = as_customer(self.other, by=self.crack.manager)
        for browser in (Client(), someone, signed_in(self.crack.manager)):
            assert browser.get(self.address).status_code == 404
            assert browser.post(self.address, {"typed_name": "x"}).status_code == 404
        assert not ChangeAnswer.objects.exists()

    def test_a_draft_is_nobodys_to_see(self):
        self.crack.finding = self.crack.add_finding("Another")
        draft = self.crack.draft()
        assert self.customer.get(f"/yours/changes/{draft.number}/").status_code == 404

    def test_it_tells_what_it_costs_and_nothing_of_the_inside(self):
        page = self.customer.get(self.address).content.decode()
        for told in ("£200", "3 to 7 days later", self.crack.kind.if_left, "£600"):
            assert told in page
        for inside in ("160", "costs the shop", "margin", "Somebody Else", PRIVATE[1], "<script"):
            assert inside not in page

    def test_looking_answers_nothing(self):
        choice = self.crack.choice(self.change, "do").pk
        self.customer.get(self.address, {"choice": choice, "typed_name": "x"})
        self.customer.head(self.address)
        assert not ChangeAnswer.objects.exists()

    def test_a_yes_counts_once_and_the_page_then_tells_it(self):
        assert self.say().status_code == 302
        assert self.say().status_code == 302
        given = ChangeAnswer.objects.get()
        assert (given.typed_name, given.entered_by) == ("Perdita Vane-Quist", None)
        page = self.customer.get(self.address).content.decode()
        assert "This was chosen" in page
        assert "Yes, do this" not in page

    def test_leaving_it_is_told_back_plainly(self):
        self.say("leave")
        assert LeftAsFound.objects.get().decided_by == "Perdita Vane-Quist"
        assert "Leave it as found" in self.customer.get(self.address).content.decode()

    def test_without_a_name_nothing_counts_and_the_choice_stays_open(self):
        answer = self.say(typed_name=" ")
        assert answer.status_code == 422
        assert '<details class="sure" open>' in answer.content.decode()
        assert not ChangeAnswer.objects.exists()

    def test_stale_words_are_answered_with_the_words_of_today(self):
        draft = changes.rewrite(change=self.change, seen_edition=self.change.edition, by=self.crack.manager)
        assert self.say().status_code == 409
        draft.what = "It is a longer crack than we thought."
        draft.save()
        changes.send(change=draft, seen_edition=draft.edition, by=self.crack.manager)
        answer = self.say()
        assert answer.status_code == 409
        assert "longer crack" in answer.content.decode()
        assert not ChangeAnswer.objects.exists()

    def test_answered_already_is_told(self):
        answers.enter_answer(
            change=self.change,
            choice_id=self.crack.choice(self.change, "leave").pk,
            typed_name="By letter",
            fingerprint=self.change.fingerprint,
            by=self.crack.manager,
        )
        answer = self.say("do")
        assert answer.status_code == 409
        assert "settled already" in answer.content.decode()

    def test_odd_answers_are_refused_in_words(self):
        for odd in (
            {"choice": "x"},
            {"choice": "9" * 400},
            {"fingerprint": "0" * 64},
            {"fingerprint": "short"},
            {"typed_name": "n" * 400},
        ):
            with self.subTest(odd=odd):
                assert self.say(**odd).status_code in (409, 422)
        assert not ChangeAnswer.objects.exists()

    def test_past_its_day_it_can_still_be_answered(self):
        with clock.at(clock.now() + timedelta(days=9)):
            assert "That day has passed" in self.customer.get(self.address).content.decode()
            assert self.say().status_code == 302

    def test_it_is_a_paper_too(self):
        assert self.customer.get(f"{self.address}paper.pdf").content.startswith(b"%PDF-")


class PhotoTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.crack = Crack()
        cls.photo = cls.a_photo(cls.crack.instrument)
        cls.other = cast.instrument(by=cls.crack.manager, number="215")

    @classmethod
    def a_photo(cls, instrument):
        from shopflow.photos.services import add_photo, make_copies

        return make_copies(
            add_photo(
                instrument=instrument,
                file=pictures.file(pictures.jpeg()),
                role=Photo.Role.FOUND,
                caption="the crack",
                by=cls.crack.hand,
            )
        )

    def status(self, photo, side=400):
        customer = as_customer(self.crack.instrument, by=self.crack.manager)
        return customer.get(f"/yours/photos/{photo.key}/{side}/").status_code

    def test_only_what_was_chosen_is_shown(self):
        assert self.status(self.photo) == 404
        Photo.objects.update(for_customer=True)
        assert self.status(self.photo) == 200
        assert self.status(self.photo, side=5000) == 404
        assert Client().get(f"/yours/photos/{self.photo.key}/400/").status_code == 404

    def test_a_photo_of_another_instrument_is_not_there(self):
        strange = self.a_photo(self.other)
        Photo.objects.update(for_customer=True)
        assert self.status(strange) == 404

    def test_what_was_put_aside_is_not_shown(self):
        Photo.objects.update(for_customer=True, hidden_at=clock.now())
        assert self.status(self.photo) == 404

    def test_the_photo_of_what_was_asked_is_shown_with_it(self):
        draft = self.crack.draft(photo=self.photo)
        assert self.status(self.photo) == 404
        changes.send(change=draft, seen_edition=draft.edition, by=self.crack.manager)
        assert self.status(self.photo) == 200
