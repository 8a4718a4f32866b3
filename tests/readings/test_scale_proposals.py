"""Proposals and the order sheet: smoother, within the limits, beside the old, fit to be sent."""

from html import unescape
from itertools import pairwise

import pytest
from django.test import TestCase

from shopflow.common.refusals import Refused
from shopflow.compute.strings import propose_plain_wires, wound_linear_density
from shopflow.readings.models import StringScale
from shopflow.readings.note_cells import draft_of
from shopflow.readings.selectors.order import order_of
from shopflow.readings.selectors.scale import reckon
from shopflow.readings.services import scale as services
from shopflow.readings.services.proposals import Wishes, propose, section_starts

from .scale_cast import ScaleCast, bass, draft, treble

WISHES = Wishes(
    plain_pull_n=700,
    highest_share=0.7,
    smoothness=4,
    whole_sizes=False,
    low_pull_n=900,
    break_pull_n=800,
    highest_core_share=0.55,
    wrap_step_mm=0.01,
)


class ProposalTests(ScaleCast, TestCase):
    def setUp(self):
        self.filled()

    def test_the_proposal_is_the_best_row_and_the_old_scale_stays(self):
        before = [draft_of(row) for row in self.scale.notes.all()]
        made = propose(base=self.scale, wishes=WISHES, name="even", by=self.stringer)
        assert [draft_of(row) for row in self.scale.notes.all()] == before
        assert (made.kind, made.name, made.based_on) == ("proposed", "even", self.scale)
        plain = {each.note: each.length_mm for each in before if each.cover_mm is None}
        best = propose_plain_wires(plain, wanted_tension_n=700)
        rows = {row.note: row for row in made.notes.all()}
        assert {each.note: each.size for each in best.strings} == {
            note: rows[note].wire_size for note in plain
        }

    def test_wound_strings_get_the_pull_that_was_asked_evenly_from_low_to_high(self):
        made = propose(base=self.scale, wishes=WISHES, name="", by=self.stringer)
        lines = [line for line in reckon(made, "metric").lines if line.row.is_wound]
        pulls = [line.figures.tension_n for line in lines]
        assert pulls[0] == pytest.approx(900, rel=0.02)
        assert pulls[-1] == pytest.approx(800, rel=0.02)
        assert all(line.figures.tension_n <= 900 + 1e-6 for line in lines)
        for line in lines:
            mass = wound_linear_density(line.row.wire_mm, line.row.cover_mm)
            assert line.figures.linear_density_g_m == pytest.approx(mass)
            assert line.figures.breaking_share <= 0.55

    def test_breaks_begin_with_a_new_section_or_after_missing_notes(self):
        rows = [*treble(49, 51), *(draft(n, f"{300 - n}", "15", section="high") for n in (52, 53, 60))]
        assert section_starts(rows) == [52, 60]

    def test_one_part_alone_can_be_proposed(self):
        only_bass = Wishes(**{**{f: getattr(WISHES, f) for f in Wishes.__slots__}, "plain_pull_n": None})
        made = propose(base=self.scale, wishes=only_bass, name="", by=self.stringer)
        old = {row.note: draft_of(row) for row in self.scale.notes.all()}
        for row in made.notes.all():
            assert row.is_wound or draft_of(row) == old[row.note]

    def test_what_no_wire_can_carry_is_named_and_nothing_is_begun(self):
        too_long = [draft(88, "90", "13")]
        services.put_table(
            scale=self.scale, drafts=too_long, seen_version=StringScale.objects.get().version, by=self.manager
        )
        with pytest.raises(Refused, match="note 88"):
            propose(base=self.scale, wishes=WISHES, name="", by=self.stringer)
        assert StringScale.objects.count() == 1

    def test_by_the_page_and_beside_the_old_one(self):
        self.client.force_login(self.stringer)
        form = self.client.get(self.url("propose/"))
        assert form.status_code == 200
        sent = {
            "plain_pull": "700", "highest_share": "70", "smoothness": "4",
            "low_pull": "900", "break_pull": "800", "highest_core_share": "55",
            "wrap_step": "0,01", "whole_sizes": "on",
        }  # fmt: skip
        answer = self.client.post(self.url("propose/"), sent)
        made = StringScale.objects.order_by("-pk").first()
        assert answer["Location"] == self.url(f"beside/{made.pk}/")
        page = unescape(self.client.get(answer["Location"]).content.decode())
        assert "What the strings pull, N" in page
        assert f"{reckon(made, 'metric').total.newtons:,.0f}" in page
        assert all(row.wire_size == int(row.wire_size) for row in made.notes.all())
        assert self.client.get(self.url(f"beside/{self.scale.pk}/")).status_code == 404

    def test_wishes_out_of_range_are_refused_with_the_range(self):
        self.client.force_login(self.stringer)
        sent = {"plain_pull": "-3", "highest_share": "NaN", "smoothness": "1e400", "highest_core_share": "55"}
        answer = self.client.post(self.url("propose/"), sent | {"wrap_step": "9"})
        page = unescape(answer.content.decode())
        assert answer.status_code == 422
        assert "300 to 1500 N" in page
        assert "0.004 to 0.500 mm" in page
        nothing = {"highest_share": "70", "smoothness": "4", "highest_core_share": "55", "wrap_step": "0.01"}
        answer = self.client.post(self.url("propose/"), nothing)
        self.assertContains(answer, "nothing to propose", status_code=422)

    def test_wire_gets_thinner_upward_inside_a_section(self):
        made = propose(base=self.scale, wishes=WISHES, name="", by=self.stringer)
        rows = [row for row in made.notes.all() if not row.is_wound]
        assert all(high.wire_mm <= low.wire_mm for low, high in pairwise(rows))


class OrderTests(ScaleCast, TestCase):
    def test_the_order_lists_every_wound_string_and_nobody_who_owns_or_made_the_piano(self):
        self.filled()
        order = order_of(self.scale, "metric")
        assert order.count_words == "20 strings on 10 notes"
        first = dict(zip(order.heads, order.lines[0].cells, strict=True))
        core, cover = bass()[0].wire_mm, bass()[0].cover_mm
        assert first["core size"] == "18"
        assert first["over all, mm"] == f"{cover:.3f}"
        assert float(first["winding, mm"]) == pytest.approx((cover - core) / 2, abs=0.0006)
        assert first["ends"] == "loop"
        self.client.force_login(self.finisher)
        page = self.client.get(self.url("order/")).content.decode()
        assert "Quillmere Piano Works" in page
        assert "20 strings on 10 notes" in page
        assert self.piano.maker not in page.split("<h1>")[1]

    def test_the_pdf_is_a_pdf_and_an_empty_order_is_none(self):
        self.client.force_login(self.stringer)
        assert self.client.get(self.url("order.pdf")).status_code == 404
        self.filled()
        answer = self.client.get(self.url("order.pdf"))
        assert answer["Content-Type"] == "application/pdf"
        assert answer.content.startswith(b"%PDF")
        self.client.force_login(self.stranger)
        assert self.client.get(self.url("order.pdf")).status_code == 403

    def test_what_a_person_typed_stays_text_in_the_pdf(self):
        self.filled()
        services.change_scale(
            scale=self.scale,
            facts={f: getattr(self.scale, f) for f in services.FACTS} | {"name": '#panic("x") $ <b> {{7*7}}'},
            seen_version=StringScale.objects.get().version,
            by=self.manager,
        )
        self.client.force_login(self.stringer)
        assert self.client.get(self.url("order.pdf")).content.startswith(b"%PDF")
