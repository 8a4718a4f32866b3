"""A stringing bench with its hand, an instrument, and a small scale on it."""

from __future__ import annotations

from shopflow.readings.models import StringScale
from shopflow.readings.note_cells import NoteDraft, read_cells
from shopflow.readings.services import scale as services
from tests import cast

FACTS = {
    "kind": "found",
    "name": "",
    "a4_hz": 440.0,
    "figure": "ASTM A228 minimum",
    "strength_mpa": None,
    "gauge": "inch",
}


def draft(note: int, length: str, wire: str, *, cover: str = "", section: str = "", strings: str = "3"):
    cells = {"note": str(note), "length_mm": length, "wire": wire, "cover_mm": cover}
    return read_cells(cells | {"section": section, "strings": strings}, gauge="inch")


def bass() -> list[NoteDraft]:
    return [
        draft(n, f"{1400 - 20 * n}", "18", cover=f"{4.2 - 0.1 * n:.2f}", section="bass", strings="2")
        for n in range(1, 11)
    ]


def treble(first: int = 49, last: int = 60) -> list[NoteDraft]:
    return [
        draft(n, f"{400 * 0.9467 ** (n - 49):.1f}", "16", section="treble") for n in range(first, last + 1)
    ]


class ScaleCast:
    """Mix into a TestCase: people, an instrument, an empty scale and its address."""

    @classmethod
    def setUpTestData(cls) -> None:
        cast.shop()
        cls.stringing, cls.finishing = cast.department("stringing"), cast.department()
        cls.manager = cast.manager()
        cls.stringer = cast.person("Sten Marlow", home=cls.stringing)
        cls.finisher = cast.finisher(home=cls.finishing)
        cls.stranger = cast.stranger()
        cls.piano = cast.instrument(by=cls.manager, number="214")
        cls.scale = services.start_scale(instrument=cls.piano, by=cls.manager, facts=FACTS)

    def filled(self) -> StringScale:
        return services.put_table(
            scale=self.scale,
            drafts=[*bass(), *treble()],
            seen_version=StringScale.objects.get(pk=self.scale.pk).version,
            by=self.manager,
        )

    def url(self, tail: str = "") -> str:
        return f"/instruments/214/scale/{self.scale.pk}/{tail}"
