"""Crown under a thread: radius and arc from chord and rise. No verdict: nobody gives a pass mark."""

from __future__ import annotations

from shopflow.common.charts.chart import Chart, Drawing
from shopflow.common.charts.draw import INK, SOFT, n, path, text
from shopflow.compute.bearing import crown_arc_mm, crown_radius_mm
from shopflow.readings.forms.fields import MeasureField, SumForm
from shopflow.readings.measures import LENGTH, Quantity, Unit, add_quantities
from shopflow.readings.parts import Given, Outcome, Output, Sum

RADIUS = Quantity("radius", Unit("m", 1000), Unit("ft", 304.8), 1, 0)
RISE = Quantity("rise", Unit("mm"), Unit("in", 25.4, also=('"',)), 2, 3)
add_quantities(RADIUS, RISE)
FLAT_MM = 0.05


class CrownForm(SumForm):
    chord_mm = MeasureField(
        label="Thread from end to end", quantity=LENGTH, least=100, most=3000, initial="1200"
    )
    rise_mm = MeasureField(
        label="Gap under its middle", quantity=RISE, least=-15, most=25,
        help_text="less than nothing where the board is hollow;",
    )  # fmt: skip


def answer(given: Given) -> Outcome:
    rise = given["rise_mm"]
    notes = [
        "Strung boards mostly read under 6 mm; there is no single bad number (technicians’ list, 1999 and "
        "2005). "
        "Read it with bearing and tone, at several places, above all in the fifth and sixth octave.",
        "What it was before stands under “Earlier”.",
    ]
    if abs(rise) < FLAT_MM:
        return Outcome([Output("shape", "The board is", "flat here")], notes=notes)
    radius = crown_radius_mm(given["chord_mm"], abs(rise))
    arc = crown_arc_mm(radius, given["chord_mm"])
    return Outcome(
        outputs=[
            Output("shape", "The board is", "crowned" if rise > 0 else "hollow"),
            Output("radius_mm", "Radius", radius, RADIUS),
            Output("longer_mm", "The wood is longer by", arc - given["chord_mm"], RISE),
        ],
        notes=notes,
    )


class _Arc:
    """The thread and the board under it, the rise drawn twenty times as high."""

    def __init__(self, rise_mm: float, chord_mm: float) -> None:
        self.bow = max(-1.0, min(1.0, rise_mm / chord_mm * 20 * 2))

    def on(self, width: float) -> Drawing:
        left, right, mid = 14.0, width - 14.0, 60.0
        sag = self.bow * 40
        curve = f"M{n(left)} {n(mid)}Q{n(width / 2)} {n(mid - 2 * sag)} {n(right)} {n(mid)}"
        thread = path(f"M{n(left)} {n(mid - max(sag, 0))}H{n(right)}", colour=SOFT, dash="5 4")
        words = text(width / 2, 118, "rise drawn twenty times as high", anchor="middle")
        return Drawing(thread + path(curve, colour=INK, width=3) + words, width, 128)


def picture(given: Given, got: Given, units: str) -> Chart:
    rise, chord = given["rise_mm"], given["chord_mm"]
    said = f"A gap of {rise:.2f} mm under the middle of {chord:.0f} mm of thread."
    rows = (("thread, mm", chord), ("rise, mm", rise))
    return Chart("The board under the thread", said, ("", "mm"), rows, _Arc(rise, chord).on)


SUM = Sum(
    code="crown",
    title="Crown",
    intro="A thread across the back, beside a rib; the gap in its middle by feeler or rule.",
    source="Geometry of the circle: R = (c²/4 + s²)/(2 s), arc = 2 R asin(c/2R).",
    version="bearing 1",
    form=CrownForm,
    answer=answer,
    picture=picture,
    button="Work out the crown",
)
