"""The sums of the soundboard, action and strings sheets: figures as published, words as experts give them."""

import pytest
from django.test import TestCase

from shopflow.compute.errors import ComputeError
from shopflow.photos.models import Photo, PhotoMark
from shopflow.photos.services import add_photo
from shopflow.readings.models import Computed
from shopflow.readings.services import bearing, touch
from shopflow.readings.services import scale as scales
from shopflow.readings.sheets import SHEETS
from shopflow.readings.sums import crown, lead, panel, pitch_raise, shim
from shopflow.workshop.models import Task
from tests import cast
from tests.photos import pictures

from .scale_cast import FACTS, treble


def said(outcome):
    return {output.name: output.value for output in outcome.outputs}


# Wood Handbook, FPL-GTR-190 (2010), Table 4-2: 70 °F.
@pytest.mark.parametrize(
    ("rh", "printed", "tone"), [(25, 5.4, "good"), (30, 6.2, "wait"), (50, 9.2, "wait"), (60, 11.0, "wait")]
)
def test_moisture_by_equation_and_table_as_printed(rh, printed, tone):
    outcome = shim.answer({"temp_c": (70 - 32) / 1.8, "rh": rh})
    assert said(outcome)["moisture"] == pytest.approx(printed, abs=0.06)
    assert said(outcome)["tabled"] == pytest.approx(printed, abs=1e-9)
    assert outcome.tone == tone
    assert any("doubt" in note for note in outcome.notes)


def test_air_outside_the_table_has_the_equation_alone():
    assert said(shim.answer({"temp_c": 20.0, "rh": 3.0}))["tabled"] == "outside the printed table"


def test_a_panel_moves_as_the_handbook_works_it():
    """Sitka quarter-sawn board, 1400 mm, 8 to 6 %: -4.144 mm, worked by the handbook's equation 13-2."""
    given = {"width_mm": 1400.0, "species": "spruce, Sitka", "direction": "radial", "from_percent": 8.0}
    # 70 °F and 30 % make 6.2 %, 70 °F and 60 % make 11.0 % (Table 4-2).
    air = {"dry_temp_c": 21.11, "dry_rh": 30.0, "damp_temp_c": 21.11, "damp_rh": 60.0}
    figures = said(panel.answer(given | air))
    assert figures["dry_mm"] == pytest.approx(1400 * 0.00148 * (figures["dry_moisture"] - 8))
    assert figures["dry_moisture"] == pytest.approx(6.2, abs=0.06)
    assert figures["damp_mm"] == pytest.approx(1400 * 0.00148 * (11.0 - 8), abs=0.15)
    assert figures["span_mm"] == pytest.approx(figures["damp_mm"] - figures["dry_mm"])


def test_a_flat_sawn_fir_board_moves_as_printed():
    """White fir, 232 mm flat-sawn, 8 to 11 %: 1.7 mm (Wood Handbook, ch. 13)."""
    given = {"width_mm": 232.0, "species": "fir, white", "direction": "tangential", "from_percent": 8.0}
    air = {"dry_temp_c": 21.11, "dry_rh": 60.0, "damp_temp_c": 21.11, "damp_rh": 60.0}
    assert said(panel.answer(given | air))["damp_mm"] == pytest.approx(1.7, abs=0.05)


def test_crowns_of_50_and_60_feet_do_not_rise_alike():
    """A list gives 0.900 in over 72 in for 50 and 60 feet alike; 50 feet rise 1.0810 in."""
    sixty = said(crown.answer({"chord_mm": 72 * 25.4, "rise_mm": 0.9006 * 25.4}))
    assert sixty["radius_mm"] == pytest.approx(60 * 304.8, rel=0.0002)
    fifty = said(crown.answer({"chord_mm": 72 * 25.4, "rise_mm": 1.0810 * 25.4}))
    assert fifty["radius_mm"] == pytest.approx(50 * 304.8, rel=0.0002)


def test_the_arc_is_no_longer_than_geometry_makes_it():
    """R 72 in, chord 36 in: a list of 2001 printed an arc of 37.7 in; it is 36.386 in."""
    figures = said(crown.answer({"chord_mm": 36 * 25.4, "rise_mm": 2.2863 * 25.4}))
    assert (figures["longer_mm"] + 36 * 25.4) / 25.4 == pytest.approx(36.386, abs=0.001)


def test_crown_gets_a_shape_and_never_a_verdict():
    for rise, shape in ((3.0, "crowned"), (-2.0, "hollow"), (0.0, "flat here")):
        outcome = crown.answer({"chord_mm": 1200.0, "rise_mm": rise})
        assert said(outcome)["shape"] == shape
        assert (outcome.verdict, outcome.tone) == ("", "")


def test_lead_by_the_lever():
    """14 g at 130 mm, read at 210 mm, lower by 8.6667 g and slow the key by 2.3660e-4 kg m² (by hand)."""
    figures = said(lead.answer({"lower_by_g": 14 * 130 / 210, "lead_at_mm": 130.0, "felt_at_mm": 210.0}))
    assert figures["lead_g"] == pytest.approx(14)
    assert figures["inertia"] == pytest.approx(2.3660e-4, abs=5e-9)


def test_a_pitch_raise_returns_what_the_square_of_pitch_says():
    """-100 cents stand at 89.1 % of the tension, -50 at 94.4 % (computed: 2^(cents/600))."""
    outcome = pitch_raise.answer({"full_tension_n": 160_000.0, "from_cents": -100.0, "aims_cents": "-50, 0"})
    assert said(outcome)["before_n"] == pytest.approx(0.891 * 160_000, rel=0.0005)
    assert [row[-1] for row in outcome.rows] == ["5.3%", "5.6%"]
    assert said(outcome)["after_n"] == pytest.approx(160_000)
    for odd in ("", "x y", "1e400", " ".join(["0"] * 13)):
        with pytest.raises(ComputeError):
            pitch_raise.answer({"full_tension_n": 160_000.0, "from_cents": -100.0, "aims_cents": odd})


class SheetTests(TestCase):
    @classmethod
    def setUpTestData(cls):
        cast.shop()
        cls.manager = cast.manager()
        cls.piano = cast.instrument(by=cls.manager, number="214")
        cls.tasks, cls.hands = {}, {}
        for kind, bench in (("strings", "stringing"), ("soundboard", "soundboard"), ("action", "action")):
            at = cast.department(bench)
            cls.hands[kind] = cast.person(f"Hand of {bench}", home=at)
            cls.tasks[kind] = cast.task(
                cast.operation(f"op-{kind}", at=at, sheet=kind), on=cls.piano, by=cls.manager
            )
        cls.stranger, cls.finisher = cast.stranger(), cast.finisher()

    def url(self, kind, tail=""):
        return f"/tasks/{self.tasks[kind].pk}/sheet/{kind}/{tail}"

    def test_strangers_see_no_sheet_and_another_bench_works_nothing_out(self):
        for kind in self.tasks:
            self.client.force_login(self.stranger)
            assert self.client.get(self.url(kind)).status_code == 403
            self.client.force_login(self.finisher)
            assert self.client.get(self.url(kind)).status_code == 200
        sent = {"key": "a-tap-of-this-test", "temp_c": "20", "rh": "30"}
        assert self.client.post(self.url("soundboard", "sum/shim/"), sent).status_code == 403
        assert not Computed.objects.exists()

    def test_each_sheet_shows_its_parts_empty_and_filled(self):
        for kind in self.tasks:
            self.client.force_login(self.hands[kind])
            page = self.client.get(self.url(kind)).content.decode()
            for part in SHEETS[kind].parts:
                assert f'id="{part.code}"' in page
        scale = scales.start_scale(instrument=self.piano, by=self.manager, facts=FACTS)
        scales.put_table(scale=scale, drafts=treble(), seen_version=scale.version, by=self.manager)
        self.client.force_login(self.hands["strings"])
        page = self.client.get(self.url("strings")).content.decode()
        total = sum(line.load_n for line in scales.reckoned(scale, scale.notes.all()).notes)
        assert f"{total:,.0f} N" in page
        assert f'value="{total:.0f}"' in page, "the pitch raise begins with the pull of the scale"

    def test_cracks_that_are_numbered_on_a_photo_stand_on_the_soundboard_sheet(self):
        photo = add_photo(
            instrument=self.piano,
            file=pictures.file(pictures.jpeg()),
            role=Photo.Role.FOUND,
            caption="board from the back",
            by=self.manager,
        )
        for number, kind in ((1, "crack"), (2, "rib"), (3, "other")):
            PhotoMark.objects.create(
                photo=photo, number=number, kind=kind, x=0.5, y=0.5, length_mm=240, by=self.manager
            )
        self.client.force_login(self.hands["soundboard"])
        page = self.client.get(self.url("soundboard")).content.decode()
        assert "crack 1, 240 mm" in page
        assert "rib 2, 240 mm" in page
        assert "something else 3" not in page
        assert f"/photos/{photo.key}/marks/" in page

    def test_what_is_read_of_the_instrument_counts_as_a_reading_of_its_open_work(self):
        scale = scales.start_scale(instrument=self.piano, by=self.manager, facts=FACTS)
        deeds = {
            "strings": lambda: scales.put_table(
                scale=scale, drafts=treble(), seen_version=scale.version, by=self.manager
            ),
            "action": lambda: touch.weigh_key(
                instrument=self.piano, phase="before", note=1, down_g=52, up_g=28, by=self.manager
            ),
            "soundboard": lambda: bearing.read_bearing(
                instrument=self.piano,
                phase="before",
                section="bass",
                front_mm=1,
                front_over_mm=100,
                back_mm=0,
                back_over_mm=50,
                by=self.manager,
            ),
        }
        for kind, deed in deeds.items():
            task, others = self.tasks[kind], [one for name, one in self.tasks.items() if name != kind]
            seen = {one.pk: Task.objects.get(pk=one.pk).read_at for one in others}
            assert Task.objects.get(pk=task.pk).read_at is None
            deed()
            assert Task.objects.get(pk=task.pk).read_at is not None
            assert {one.pk: Task.objects.get(pk=one.pk).read_at for one in others} == seen

    def test_sums_are_worked_out_and_kept_once(self):
        for kind, code, typed in (
            ("soundboard", "shim", {"temp_c": "21,1", "rh": "25"}),
            ("soundboard", "crown", {"chord_mm": "1200", "rise_mm": "3"}),
            (
                "soundboard", "panel",
                {"width_mm": "1400", "species": "spruce, Sitka", "direction": "radial", "from_percent": "6",
                 "dry_temp_c": "20", "dry_rh": "30", "damp_temp_c": "20", "damp_rh": "65"},
            ),
            ("action", "lead", {"lower_by_g": "8", "lead_at_mm": "120", "felt_at_mm": "210"}),
            ("strings", "pitch-raise", {"full_tension_n": "160000", "from_cents": "-100", "aims_cents": "0"}),
        ):  # fmt: skip
            self.client.force_login(self.hands[kind])
            with self.subTest(code=code):
                for _ in range(2):
                    answer = self.client.post(
                        self.url(kind, f"sum/{code}/"), {"key": f"tap-of-{code}", **typed}
                    )
                    assert answer.status_code in (302, 303), answer.content.decode()[:3000]
                row = Computed.objects.get(code=code)
                assert row.outputs["said"]
                assert self.client.get(self.url(kind)).status_code == 200

    def test_what_is_out_of_range_is_named_on_the_sheet(self):
        self.client.force_login(self.hands["soundboard"])
        sent = {"key": "tap-of-nonsense", "temp_c": "20", "rh": "140"}
        answer = self.client.post(self.url("soundboard", "sum/shim/"), sent)
        self.assertContains(answer, "Measured again?", status_code=422)
        assert not Computed.objects.exists()
