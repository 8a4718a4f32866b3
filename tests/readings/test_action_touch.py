"""Weights of the keys: fast entry, what stands out, lead, before and after."""

from html import unescape

import pytest
from django.db import connection
from django.test import TestCase
from django.test.utils import CaptureQueriesContext

from shopflow.common.refusals import Refused
from shopflow.offers.selectors.before_after import before_and_after
from shopflow.people.access import NotAllowed
from shopflow.readings.keyboard_picture import keyboards
from shopflow.readings.models import KeyWeight
from shopflow.readings.selectors.told import lines_for_report
from shopflow.readings.selectors.touch import lead_lines, weighed
from shopflow.readings.services import bearing
from shopflow.readings.services import touch as services
from shopflow.readings.touch_words import odd_in_words
from tests import cast


class TouchCast:
    @classmethod
    def setUpTestData(cls):
        cast.shop()
        cls.action, cls.finishing = cast.department("action"), cast.department()
        cls.manager = cast.manager()
        cls.hand = cast.person("Ada Lund", home=cls.action)
        cls.finisher = cast.finisher(home=cls.finishing)
        cls.stranger = cast.stranger()
        cls.piano = cast.instrument(by=cls.manager, number="214")

    def url(self, phase="before", note=1, tail=""):
        return f"/instruments/214/touch/{phase}/{note}/{tail}"

    def weigh(self, note, down=52, up=28, phase="before"):
        return services.weigh_key(
            instrument=self.piano, phase=phase, note=note, down_g=down, up_g=up, by=self.hand
        )


class KeyTests(TouchCast, TestCase):
    def test_strangers_see_nothing_and_another_bench_writes_nothing(self):
        self.client.force_login(self.stranger)
        assert self.client.get("/instruments/214/touch/").status_code == 403
        self.client.force_login(self.finisher)
        assert self.client.get("/instruments/214/touch/").status_code == 200
        assert self.client.get(self.url()).status_code == 403
        assert self.client.post(self.url(), {"down_g": "52", "up_g": "28"}).status_code == 403
        assert self.client.post(self.url(tail="strike/")).status_code == 403
        for person in (self.stranger, self.finisher):
            with pytest.raises(NotAllowed):
                services.weigh_key(
                    instrument=self.piano, phase="before", note=1, down_g=52, up_g=28, by=person
                )

    def test_a_key_is_kept_and_the_next_one_is_there(self):
        self.client.force_login(self.hand)
        answer = self.client.post(self.url(), {"down_g": "52", "up_g": "28,5"})
        assert answer["Location"] == self.url(note=2)
        row = KeyWeight.objects.get()
        assert (row.down_g, row.up_g, row.typed, row.by) == (52, 28.5, "52 / 28,5 g", self.hand)
        self.assertContains(self.client.get(answer["Location"]), "last: 52")
        every = self.client.post(self.url(note=4), {"down_g": "52", "up_g": "28", "every": "4"})
        assert every["Location"] == self.url(note=8) + "?every=4"
        last = self.client.post(self.url(note=88), {"down_g": "50", "up_g": "26"})
        assert last["Location"] == "/instruments/214/touch/"

    def test_the_same_form_sent_three_times_keeps_one_row(self):
        self.client.force_login(self.hand)
        for _ in range(3):
            self.client.post(self.url(), {"down_g": "52", "up_g": "28"})
        assert KeyWeight.objects.count() == 1

    def test_a_key_weighed_anew_strikes_the_older_and_loses_nothing(self):
        self.weigh(1)
        self.weigh(1, down=54)
        assert [(row.down_g, row.struck_at is None) for row in KeyWeight.objects.order_by("pk")] == [
            (52, False),
            (54, True),
        ]
        services.strike_key(instrument=self.piano, phase="before", note=1, by=self.hand)
        assert not KeyWeight.objects.filter(struck_at=None).exists()
        assert KeyWeight.objects.count() == 2

    def test_bad_numbers_are_named_and_stay_in_the_form(self):
        self.client.force_login(self.hand)
        for down, words in (
            ("-3", "allowed is 0.0 to 1000.0 g"), ("1e400", "is not a unit"), ("NaN", "is not a number"),
            ("1,234", "two ways"), ("", "required"), ("20", "one of them was misread"),
        ):  # fmt: skip
            with self.subTest(down=down):
                answer = self.client.post(self.url(), {"down_g": down, "up_g": "28"})
                page = unescape(answer.content.decode())
                assert answer.status_code == 422
                assert words in page
                assert f'id="id_down_g" value="{down}"' in page
        assert not KeyWeight.objects.exists()
        with pytest.raises(Refused):
            self.weigh(1, down=20, up=30)
        with pytest.raises(Refused):
            self.weigh(89)

    def test_the_unlikely_is_asked_again_and_marked_after_a_yes(self):
        self.client.force_login(self.hand)
        sent = {"down_g": "520", "up_g": "28"}
        answer = self.client.post(self.url(), sent)
        self.assertContains(answer, "Measured again?", status_code=422)
        self.assertContains(answer, "20 to 120 g", status_code=422)
        assert self.client.post(self.url(), sent | {"yes": "1"}).status_code == 302
        assert KeyWeight.objects.get().measured_again

    def test_a_key_that_is_none_is_not_found(self):
        self.client.force_login(self.hand)
        for phase, note in (("before", 0), ("before", 89), ("never", 1), ("during", 1)):
            assert self.client.get(self.url(phase, note)).status_code == 404


class ReportTests(TouchCast, TestCase):
    def test_the_report_that_goes_home_tells_what_was_read_after_the_work(self):
        self.weigh(1, down=70, up=30)
        assert lines_for_report(self.piano) == []
        self.weigh(1, phase="after")
        services.begin_values(instrument=self.piano, by=self.hand)
        dip = self.piano.regulating_values.get(code="dip")
        services.read_sample(value=dip, phase="after", note=1, read_mm=10.2, by=self.hand)
        read = {"front_over_mm": 100, "back_over_mm": 50, "back_mm": 0, "section": "bass", "by": self.manager}
        for phase, front in (("before", 0), ("after", 1.75)):
            bearing.read_bearing(instrument=self.piano, phase=phase, front_mm=front, **read)
        assert [tuple(line.values()) for line in before_and_after(self.piano)] == [
            ("Balance weight", "mean of 1 keys", "50.0 g", "40.0 g", "38 to 40 g"),
            ("Friction of the keys", "mean of 1 keys", "20.0 g", "12.0 g", "10 to 15 g"),
            ("Key dip", "1 sample notes", "–", "10.20 mm", "aim 10.25 mm ± 0.25"),
            ("Bearing, net", "bass", "0.00°", "1.00°", ""),
        ]


class PictureTests(TouchCast, TestCase):
    def test_the_page_says_what_compute_says(self):
        """52 down and 28 up are 40 balance and 12 friction: worked on a technicians' list, college branch."""
        for note in range(1, 89):
            self.weigh(note)
        self.weigh(40, down=66, up=30)
        self.client.force_login(self.finisher)
        page = unescape(self.client.get("/instruments/214/touch/").content.decode())
        assert "Key 40 (C4): balance 48 g, more than its neighbours with 40 g." in page
        assert "Key 40 (C4): friction 18 g, more than its neighbours with 12 g." in page
        assert page.count("<svg xmlns") >= 4, "balance and friction, wide and narrow"
        assert "Lead" in page

    def test_lead_is_worked_out_by_the_lever(self):
        """d1 W1 = d2 W2: 8 g at 210 mm are 14 g at 120 mm (technicians' list, January 2005)."""
        self.weigh(1, down=59, up=35)
        self.weigh(2, down=45, up=21)
        self.weigh(3, down=51, up=27)
        keys = weighed(self.piano)["before"].keys.values()
        lines = lead_lines(keys, wanted_g=39, lead_at_mm=120, felt_at_mm=210)
        assert [(line.key.note, line.lower_by_g, line.lead_g, line.adds) for line in lines] == [
            (1, 8, pytest.approx(14), True),
            (2, -6, pytest.approx(-10.5), False),
        ]
        self.client.force_login(self.finisher)
        asked = {"wanted_g": "39", "lead_at_mm": "120", "felt_at_mm": "210"}
        self.assertContains(self.client.get("/instruments/214/touch/", asked), "14.0")
        odd = self.client.get("/instruments/214/touch/", asked | {"wanted_g": "1e400", "lead_at_mm": "-3"})
        assert odd.status_code == 200
        self.assertContains(odd, "allowed is 10.0 to 260.0 mm")

    def test_before_stands_as_a_line_over_after(self):
        self.weigh(1, down=70, up=30)
        self.weigh(1, phase="after")
        found = weighed(self.piano)
        balance, friction = keyboards(found["before"], found["after"])
        assert balance.rows == (("1 A0", 40.0, 50.0),)
        assert friction.rows == (("1 A0", 12.0, 20.0),)
        assert keyboards(found["during"], found["during"]) == []

    def test_stretches_beside_the_usual_are_told_together(self):
        for note in range(1, 11):
            self.weigh(note, down=72, up=28)
        assert odd_in_words(weighed(self.piano)["before"].odd) == [
            "Keys 1 to 10: balance 50 g, over the usual 43 g.",
            "Keys 1 to 10: friction 22 g, over the usual 17 g.",
        ]

    def test_the_page_asks_the_same_number_of_questions_for_one_key_and_for_88(self):
        self.client.force_login(self.hand)
        counts = []
        for notes in (range(1, 2), range(2, 89)):
            for note in notes:
                self.weigh(note)
            with CaptureQueriesContext(connection) as asked:
                self.client.get("/instruments/214/touch/")
            counts.append(len(asked))
        assert counts[0] == counts[1] <= 12
