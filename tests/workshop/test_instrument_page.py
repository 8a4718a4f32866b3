"""The page of one instrument."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import TestCase
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shopflow.common import clock
from shopflow.customers.models import Customer
from shopflow.people.access import NotAllowed
from shopflow.workshop.models import Move
from shopflow.workshop.services import hours, layout, moves, passages, snags
from tests import cast


class InstrumentCase(TestCase):
    def setUp(self):
        cache.clear()
        cast.shop()
        self.maud = cast.manager()
        self.finn = cast.finisher()
        self.piano = cast.instrument(
            by=self.maud,
            number="B-12",
            fragile="lid pin is worn",
            customer=Customer.objects.create(name="Hester Gaunt", phone="0777 123"),
        )
        self.strip = cast.task(cast.operation("strip"), on=self.piano, by=self.maud)
        self.colour = cast.task(cast.operation("colour"), on=self.piano, by=self.maud, needs=[self.strip])
        self.client.force_login(self.maud)

    def page(self, number="B-12"):
        return self.client.get(reverse("workshop:instrument", args=[number]))

    def snag(self, **given):
        facts = {"cause": "part", "reason": "hinge missing", "ask_again_on": clock.today(), "by": self.finn}
        return snags.raise_snag(task=self.strip, **(facts | given))


class WhoMaySeeTests(InstrumentCase):
    def test_the_stranger_is_led_to_the_door(self):
        self.client.logout()
        assert self.page().status_code == 302
        self.client.force_login(cast.stranger())
        assert self.page().status_code == 403

    def test_a_missing_number_is_a_missing_page(self):
        for number in ("999", "B-1"):
            assert self.page(number).status_code == 404
        for path in ("/instruments/B%0012/", "/instruments/-12/", "/instruments/1234567890123/"):
            assert self.client.get(path).status_code == 404

    def test_capitals_do_not_matter(self):
        assert self.page("b-12").status_code == 200

    def test_the_owner_is_for_the_office_only(self):
        assert "Hester Gaunt" in self.page().content.decode()
        for hand in (self.finn, self.maud):
            cast.by_pin(self.client, hand)
            shown = self.page().content.decode()
            assert "Hester Gaunt" not in shown
            assert "0777 123" not in shown

    def test_hands_find_no_deeds_of_the_office(self):
        self.client.force_login(self.finn)
        shown = self.page().content.decode()
        for name in ("facts", "work", "promise", "leave"):
            assert reverse(f"workshop:{name}", args=["B-12"]) not in shown
        assert 'method="post"' not in shown.split("</header>", 1)[1]


class NowTests(InstrumentCase):
    def now(self):
        return [(line.task.name, line.state) for line in self.page().context["work"].now]

    def test_what_can_be_taken_is_told_and_what_waits_is_not(self):
        assert self.now() == [("Strip", "ready to take")]

    def test_snags_come_first_with_owner_and_day(self):
        other = cast.task(cast.operation("mend"), on=self.piano, by=self.maud)
        cast.walk(other, by=self.finn, until="built-up")
        self.snag(owner_outside="the smith")
        assert self.now()[0] == ("Strip", "stopped")
        self.assertContains(self.page(), "Stopped: hinge missing")
        self.assertContains(self.page(), "the smith asks again on")

    def test_then_what_rests_then_what_is_on_a_bench(self):
        mend = cast.task(cast.operation("mend", rest=None), on=self.piano, by=self.maud)
        cast.walk(mend, by=self.finn, until="stripped")
        cast.walk(self.strip, by=self.finn, until="hardening")
        assert self.now() == [("Strip", "resting"), ("Mend", "on the bench")]

    def test_nothing_laid_out_is_said(self):
        cast.instrument(by=self.maud, number="77")
        self.assertContains(self.page("77"), "No work is laid out")

    def test_finished_and_left_are_said(self):
        for piece in (self.strip, self.colour):
            cast.walk(piece, by=self.finn)
        self.assertContains(self.page(), "It waits to be handed over")
        passages.let_leave(instrument=self.piano, by=self.maud)
        self.assertContains(self.page(), "It went home on")

    def test_handed_over_is_said_until_it_is_opened_again(self):
        for piece in (self.strip, self.colour):
            cast.walk(piece, by=self.finn)
        for _ in range(2):
            passages.hand_over(instrument=self.piano, by=self.maud)
        assert self.piano.passages.filter(kind="handed").count() == 1
        self.assertContains(self.page(), "Handed over to its owner on")
        self.assertNotContains(self.page(), "waits to")
        assert passages.passage_differences() == []
        cast.task(cast.operation("late-work"), on=self.piano, by=self.maud)
        self.piano.refresh_from_db()
        assert self.piano.handed_on is None
        self.assertNotContains(self.page(), "Handed over to its owner on")
        assert passages.passage_differences() == []

    def test_a_hand_hands_nothing_over(self):
        with pytest.raises(NotAllowed):
            passages.hand_over(instrument=self.piano, by=self.finn)

    def test_a_reason_that_is_asked_for_is_not_said_to_be_free(self):
        page = self.client.post(reverse("workshop:leave", args=["B-12"]), {"reason": ""})
        self.assertContains(page, "Leaving so needs a reason", status_code=422)
        self.assertNotContains(page, "may stay empty", status_code=422)

    def test_the_warning_stands_on_every_page_of_it(self):
        for name in ("instrument", "work"):
            page = self.client.get(reverse(f"workshop:{name}", args=["B-12"]))
            self.assertContains(page, "lid pin is worn")

    def test_a_promise_gone_by_is_marked(self):
        self.piano.promised_on = clock.today() - timedelta(days=1)
        self.piano.save()
        self.assertContains(self.page(), "past</span>")


class PollTests(InstrumentCase):
    def poll(self, mark):
        headers = {"HX-Request": "true", "X-Pulse": mark}
        return self.client.get(reverse("workshop:instrument", args=["B-12"]), headers=headers)

    def test_nothing_new_is_answered_with_nothing(self):
        assert self.poll(self.page().context["pulse_mark"]).status_code == 204

    def test_after_a_move_only_where_it_stands_comes_back(self):
        mark = self.page().context["pulse_mark"]
        cast.send(self.strip, "stripped", by=self.finn)
        shown = self.poll(mark).content.decode()
        assert shown.startswith('<div id="standing"')
        assert "stripped" in shown
        assert "net-box" not in shown

    def test_a_poll_shows_a_hand_no_owner_either(self):
        cast.by_pin(self.client, self.maud)
        assert "Hester Gaunt" not in self.poll("").content.decode()


class WorkTests(InstrumentCase):
    def test_picture_and_list_tell_the_same_tasks(self):
        shown = self.page().content.decode()
        picture, rest = shown.split("</svg></div>", 1)
        for piece in (self.strip, self.colour):
            address = reverse("workshop:task", args=[piece.pk])
            assert address in picture.split('class="net-box"')[1]
            assert address in rest

    def test_hours_are_summed_by_department(self):
        hours.enter_hours(task=self.strip, hours=Decimal("1.25"), by=self.finn)
        hours.enter_hours(task=self.strip, hours=Decimal("0.50"), by=self.finn)
        (part,) = self.page().context["work"].parts
        assert (part.planned, part.spent, part.signed) == (4, Decimal("1.75"), 0)

    def test_a_dropped_task_is_in_the_story_only(self):
        layout.drop_task(task=self.strip, by=self.maud, reason="kept as found")
        shown = self.page()
        assert [line.task.name for line in shown.context["work"].lines] == ["Colour"]
        self.assertContains(shown, "kept as found")

    def test_needs_are_named_until_they_are_signed(self):
        lines = {line.task.name: line for line in self.page().context["work"].lines}
        assert [tie.task.name for tie in lines["Colour"].open_needs] == ["Strip"]
        cast.walk(self.strip, by=self.finn)
        lines = {line.task.name: line for line in self.page().context["work"].lines}
        assert lines["Colour"].open_needs == []


class StoryTests(InstrumentCase):
    def story(self, **query):
        return self.client.get(reverse("workshop:story", args=["B-12"]), query)

    def test_everything_that_happened_is_told_newest_first(self):
        cast.send(self.strip, "stripped", by=self.finn)
        snag = self.snag()
        snags.clear_snag(snag=snag, by=self.finn, note="found in crate 4")
        hours.enter_hours(task=self.strip, hours=Decimal(1), by=self.finn)
        layout.drop_task(task=self.colour, by=self.maud, reason="customer likes it")
        events = self.story().context["page"].object_list
        assert [event.kind for event in events] == [
            "dropped",
            "hours",
            "cleared",
            "raised",
            "move",
            "passage",
        ]
        assert [event.at for event in events] == sorted((event.at for event in events), reverse=True)

    def test_another_instruments_story_is_not_mixed_in(self):
        other = cast.instrument(by=self.maud, number="77")
        cast.send(cast.task(cast.operation("mend"), on=other, by=self.maud), "stripped", by=self.finn)
        assert [event.kind for event in self.story().context["page"].object_list] == ["passage"]

    def test_a_late_tap_says_when_it_was_tapped(self):
        hour_ago = clock.now() - timedelta(hours=1)
        cast.send(self.strip, "stripped", by=self.finn)
        assert "Late:" not in self.story().content.decode()
        moves.move_task(
            task_id=self.strip.pk,
            to_stage_id=cast.stage(self.strip, "built-up").pk,
            seen_stage_id=cast.stage(self.strip, "stripped").pk,
            by=self.finn,
            tap=cast.tap(self.finn, tapped_at=hour_ago),
        )
        assert self.story().content.decode().count("Late:") == 1

    def test_an_undo_and_an_override_are_marked_with_their_reasons(self):
        cast.send(self.colour, "stripped", by=self.maud, reason="customer is coming", override=True)
        move = Move.objects.get()
        moves.undo_move(move_id=move.pk, by=self.maud, tap=cast.tap(self.maud))
        shown = self.story().content.decode()
        assert "Went past the order of work." in shown
        assert "customer is coming" in shown
        assert "<b>undone</b>" in shown

    def test_it_is_paged_and_odd_pages_lead_somewhere(self):
        for _ in range(15):
            cast.send(self.strip, "stripped", by=self.finn)
            cast.send(self.strip, "rack", by=self.finn, reason="again")
        first, second = (self.story(page=number).context["page"] for number in (1, 2))
        assert (len(first), len(second)) == (25, 6)
        assert not {(e.kind, e.row.pk) for e in first} & {(e.kind, e.row.pk) for e in second}
        for odd in ("0", "-1", "999", "x", "9" * 400):
            assert self.story(page=odd).status_code == 200

    def test_what_people_wrote_stays_text(self):
        self.snag(reason="<img src=x onerror=alert(1)>")
        assert "<img src=x" not in self.story().content.decode()
        assert "<img src=x" not in self.page().content.decode()


class CostTests(InstrumentCase):
    def queries(self, url):
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert self.client.get(url).status_code == 200
        return len(caught)

    def test_the_page_asks_as_often_for_66_tasks_as_for_five(self):
        url = reverse("workshop:instrument", args=["B-12"])
        operation = cast.operation("sand")
        for _ in range(3):
            cast.task(operation, on=self.piano, by=self.maud, needs=[self.strip])
        few = self.queries(url)
        for _ in range(61):
            extra = cast.task(operation, on=self.piano, by=self.maud, needs=[self.strip])
        cast.send(self.strip, "stripped", by=self.finn)
        self.snag()
        hours.enter_hours(task=extra, hours=Decimal(1), by=self.finn)
        # Moves, snags and hours in the story are read kind by kind: one query more for each kind met.
        assert self.queries(url) <= few + 3
        assert few <= 27

    def test_the_story_asks_as_often_on_every_page(self):
        url = reverse("workshop:story", args=["B-12"])
        for _ in range(13):
            cast.send(self.strip, "stripped", by=self.finn)
            cast.send(self.strip, "rack", by=self.finn, reason="again")
        assert self.queries(url + "?page=1") <= 12
        assert self.queries(url + "?page=2") <= self.queries(url + "?page=1") + 1

    def test_the_page_stays_light(self):
        operation = cast.operation("sand")
        for _ in range(64):
            cast.task(operation, on=self.piano, by=self.maud)
        page = self.page().content
        assert len(page) < 300_000
        assert len(re.findall(rb"net-piece", page)) == 66


class StripOfLinksTests(InstrumentCase):
    def links(self, page="workshop:instrument"):
        shown = self.client.get(reverse(page, args=["B-12"])).content.decode()
        return shown.split('<nav class="strip"', 1)[1].split("</nav>", 1)[0]

    def test_every_page_of_an_instrument_leads_to_the_others_and_says_which_one_it_is(self):
        for page in ("workshop:instrument", "workshop:photos", "workshop:story"):
            links = self.links(page)
            assert reverse("workshop:photos", args=["B-12"]) in links
            assert links.count("aria-current") == 1
        assert f'href="{reverse("workshop:photos", args=["B-12"])}" aria-current' in self.links(
            "workshop:photos"
        )

    def test_what_belongs_to_a_room_is_shown_in_that_room_only(self):
        private = reverse("offers:links", args=["B-12"])
        assert private not in self.links()
        offers = self.links("offers:offers")
        assert f'href="{private}"' in offers
        inner = self.links("offers:links")
        assert f'href="{private}" aria-current="page"' in inner
        assert f'href="{reverse("offers:offers", args=["B-12"])}" aria-current="true"' in inner

    def test_a_hand_finds_no_link_to_the_money(self):
        self.client.force_login(self.finn)
        links = self.links()
        assert "Photos" in links
        for word in ("Scope", "Offers", "Changes", "Handover"):
            assert word not in links
