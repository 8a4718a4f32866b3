"""The key gauge: every state readable without colour, every drawing shared, every word safe."""

from __future__ import annotations

import itertools
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.common import gauges, keys
from shopflow.common.gauges import Gauge, GaugeSheet

REFINISHING = (
    "racked",
    "benched",
    "benched",
    "benched",
    "benched",
    "resting",
    "benched",
    "proving",
    "signed",
)
any_kinds = st.lists(st.sampled_from(keys.KINDS), min_size=1, max_size=12).map(tuple)


def outlines(drawing: str) -> list[str]:
    """The shapes of a drawing with everything about paint left out."""
    tree = ElementTree.fromstring(f"<svg>{drawing}</svg>")
    return [f"{el.get('d')} {el.get('transform')} {el.get('stroke-width')}" for el in tree]


def test_five_kinds_have_five_shapes():
    drawn = {tuple(outlines(keys.run([kind], ["ahead"]))) for kind in keys.KINDS}
    assert len(drawn) == 5


def test_the_three_states_and_a_stop_differ_without_any_colour():
    pairs = [(state, stop) for state in keys.STATES for stop in (None, 0)]
    drawn = {pair: tuple(outlines(keys.run(["benched"], [pair[0]], pair[1]))) for pair in pairs}
    for one, other in itertools.combinations(pairs, 2):
        assert drawn[one] != drawn[other], (one, other)


@given(kinds=any_kinds, data=st.data())
def test_every_stage_has_exactly_one_key_and_one_is_present(kinds, data):
    at = data.draw(st.integers(0, len(kinds) - 1))
    gauge = Gauge(kinds, at)
    drawing = gauge.drawing()
    count = sum(drawing.count(f'class="k-{state}"') for state in keys.STATES)
    finished = at == len(kinds) - 1 and kinds[-1] == "signed"
    assert count == len(kinds)
    assert drawing.count('class="k-here"') == (0 if finished else 1)


@given(first=any_kinds, second=any_kinds, stop=st.booleans())
def test_same_id_means_same_drawing(first, second, stop):
    one, other = Gauge(first, 0, stop), Gauge(second, 0)
    assert (one.shape_id == other.shape_id) == (one.drawing() == other.drawing())


def test_a_page_of_1800_gauges_holds_each_drawing_once():
    sheet = GaugeSheet()
    cells = [sheet.cell(Gauge(REFINISHING, k % 9, stopped=k % 50 == 0)) for k in range(1800)]
    symbols = sheet.svg().count("<symbol")
    assert symbols == len({c.split("#")[1] for c in cells}) <= 18
    assert max(map(len, cells)) < 260


def test_a_signed_task_shows_every_key_pressed():
    assert set(Gauge(REFINISHING, 8).states) == {"done"}


def test_hostile_words_stay_words():
    words = '"><script>alert(1)</script>'
    svg = gauges.alone(Gauge(REFINISHING, 2, words=words))
    assert ElementTree.fromstring(svg).get("aria-label") == words


@pytest.mark.parametrize(("kinds", "at"), [(("racked", "painted"), 0), (("racked",), 1), ((), 0)])
def test_nonsense_is_refused(kinds, at):
    with pytest.raises(ValueError, match="allowed"):
        Gauge(kinds, at)


def test_large_gauge_says_where_the_task_stands():
    rows = gauges.named_keys(Gauge(("racked", "benched", "signed"), 1, stopped=True), ["a", "b", "c"])
    assert [(row.said, row.here) for row in rows] == [("done", False), ("stopped", True), ("", False)]
