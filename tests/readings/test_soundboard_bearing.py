"""Bearing section by section: angles and the force on the board, history and no verdict."""

import math
from html import unescape

import pytest
from django.db import connection
from django.test import TestCase
from django.test.utils import CaptureQueriesContext

from shopflow.common.refusals import Refused
from shopflow.people.access import NotAllowed
from shopflow.readings.models import BearingReading
from shopflow.readings.selectors.bearing import belly_of
from shopflow.readings.services import bearing as services
from shopflow.readings.services import scale as scales
from tests import cast

from .scale_cast import FACTS, treble

HOME = "/instruments/214/bearing/"
READ = {
    "section": "treble", "phase": "before", "front_mm": "0.9", "front_over_mm": "100", "back_mm": "0,5",
    "back_over_mm": "50",
}  # fmt: skip


class BearingTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cast.shop()
        cls.belly, cls.finishing = cast.department("soundboard"), cast.department()
        cls.manager = cast.manager()
        cls.hand = cast.person("Ansel Pike", home=cls.belly)
        cls.finisher = cast.finisher(home=cls.finishing)
        cls.stranger = cast.stranger()
        cls.piano = cast.instrument(by=cls.manager, number="214")

    def read(self, **given):
        facts = {"front_mm": 1.75, "front_over_mm": 100, "back_mm": 0.0, "back_over_mm": 50}
        facts |= {"phase": "before", "section": "treble", "by": self.hand}
        return services.read_bearing(instrument=self.piano, **(facts | given))

    def test_strangers_see_nothing_and_another_bench_writes_nothing(self):
        self.client.force_login(self.stranger)
        assert self.client.get(HOME).status_code == 403
        self.client.force_login(self.finisher)
        assert self.client.get(HOME).status_code == 200
        assert self.client.post(HOME, READ).status_code == 403
        with pytest.raises(NotAllowed):
            self.read(by=self.finisher)
        assert not BearingReading.objects.exists()

    def test_one_degree_is_0_0175_of_the_length(self):
        """Technicians' lists: one degree is 0.0175 of the length."""
        self.read()
        section = next(each for each in belly_of(self.piano, "metric").sections if each.name == "treble")
        assert section.before.front == pytest.approx(1.0, abs=0.005)
        assert section.before.net == pytest.approx(section.before.front)
        assert section.before.down_n is None, "without a scale nobody knows the pull"

    def test_the_force_is_the_sum_over_all_strings_of_the_section(self):
        scale = scales.start_scale(instrument=self.piano, by=self.manager, facts=FACTS)
        scales.put_table(scale=scale, drafts=treble(49, 52), seen_version=scale.version, by=self.manager)
        self.read()
        belly = belly_of(self.piano, "metric")
        (section,) = belly.sections
        assert section.strings == 12
        pulls = [line.figures.load_n for line in belly.scale.lines]
        net = math.atan2(1.75, 100)
        assert section.before.down_n == pytest.approx(sum(pulls) * 2 * math.sin(net / 2))
        assert belly.before_n == pytest.approx(section.before.down_n)
        assert belly.after_n is None

    def test_a_section_is_kept_once_and_read_anew_strikes_the_older(self):
        self.client.force_login(self.hand)
        for _ in range(2):
            assert self.client.post(HOME, READ).status_code == 302
        row = BearingReading.objects.get()
        assert (row.front_mm, row.back_mm, row.typed) == (0.9, 0.5, "0.9 · 100 · 0,5 · 50")
        self.client.post(HOME, READ | {"front_mm": "-0.4"})
        assert BearingReading.objects.count() == 2
        page = unescape(self.client.get(HOME).content.decode())
        assert "Read anew since: 1" in page
        assert "-0.23°" in page
        assert "pass mark" in page

    def test_bad_numbers_are_named_and_the_unlikely_is_asked_again(self):
        self.client.force_login(self.hand)
        for typed, words in (
            ("1e400", "not a unit"),
            ("NaN", "not a number"),
            ("99", "allowed is -30.00 to"),
        ):
            answer = self.client.post(HOME, READ | {"front_mm": typed})
            assert answer.status_code == 422
            assert words in unescape(answer.content.decode())
        answer = self.client.post(HOME, READ | {"front_mm": "20"})
        self.assertContains(answer, "Measured again?", status_code=422)
        assert not BearingReading.objects.exists()
        assert self.client.post(HOME, READ | {"front_mm": "20", "yes": "on"}).status_code == 302
        assert BearingReading.objects.get().measured_again
        with pytest.raises(Refused):
            self.read(section="  ")

    def test_an_inch_shop_types_inches(self):
        cast.shop(units="inch")
        self.client.force_login(self.hand)
        self.client.post(
            HOME, READ | {"front_mm": "0.07", "front_over_mm": "4", "back_mm": "0.02", "back_over_mm": "2"}
        )
        row = BearingReading.objects.get()
        assert row.front_over_mm == pytest.approx(101.6)
        assert row.front_mm == pytest.approx(1.778)

    def test_the_page_asks_the_same_number_of_questions_however_much_was_read(self):
        self.client.force_login(self.hand)
        counts = []
        for names in (("treble",), ("bass", "tenor", "high treble")):
            for name in names:
                self.read(section=name)
                self.read(section=name, phase="after")
            with CaptureQueriesContext(connection) as asked:
                self.client.get(HOME)
            counts.append(len(asked))
        assert counts[0] == counts[1] <= 12
