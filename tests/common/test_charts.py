"""Charts: well-formed, words escaped, the table equal to what was given, no red."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.common import charts
from shopflow.common.charts.draw import ticks

HOSTILE = "</svg><script>alert('x')</script>&\"{{7*7}}"
SVG = "{http://www.w3.org/2000/svg}"
figures = st.lists(st.one_of(st.none(), st.floats(0, 1e6)), min_size=1, max_size=30)


def every_kind(word: str = "week", values: tuple[float, ...] = (3, 5, 2)) -> list[charts.Chart]:
    labels = [f"{word} {i}" for i in range(len(values))]
    said = {"title": word, "description": word}
    series = [charts.Series(word, values, "walnut"), charts.Series(f"{word} 2", values, "brass")]
    band = charts.Band(word, [v - 1 for v in values], [v + 1 for v in values])
    target = charts.Target(word, 4)
    return [
        charts.lines(**said, labels=labels, series=series, bands=[band], target=target, step=True),
        charts.bars(**said, labels=labels, values=values, target=target),
        charts.stacked_bars(**said, labels=labels, series=series),
        charts.control_chart(**said, labels=labels, values=values, centre=3, lower=1, upper=4),
        charts.load_bars(**said, loads=[charts.Load(word, v, 4, "felt") for v in values]),
        charts.load_bar(title=word, load=charts.Load(word, 9, 4)),
        charts.dots(**said, rows=[(word, values, "steel")], middles=[3]),
        charts.stairs(
            **said, steps=[(9, 3), (12, 50)], marked=(10, word), here=9, address=lambda m: f"?{word}={m}"
        ),
        charts.spans(**said, rows=[charts.Span(word, 1, 2, 3, 2)], now=2),
    ]


@pytest.mark.parametrize("for_pdf", [False, True])
def test_hostile_words_stay_words(for_pdf):
    for chart in every_kind(HOSTILE):
        tree = ElementTree.fromstring(chart.svg(for_pdf=for_pdf))
        assert not list(tree.iter(f"{SVG}script"))
        assert tree.find(f"{SVG}title").text == HOSTILE
        drawn = [el.text for el in tree.iter(f"{SVG}text")]
        assert not drawn or any(HOSTILE in (words or "") for words in drawn)


def test_a_chart_is_named_and_described_for_a_reader():
    for chart in every_kind():
        tree = ElementTree.fromstring(chart.svg())
        names = tree.get("aria-labelledby").split()
        assert tree.get("role") == "img"
        assert [el.get("id") for el in tree if el.tag in (f"{SVG}title", f"{SVG}desc")] == names


@given(values=figures)
def test_the_table_holds_exactly_what_was_given(values):
    labels = [str(i) for i in range(len(values))]
    chart = charts.lines(title="t", description="d", labels=labels, series=[charts.Series("s", values)])
    assert [row[1] for row in chart.rows] == values
    assert [row[0] for row in chart.rows] == labels
    ElementTree.fromstring(chart.svg())


@given(values=st.lists(st.integers(1, 1000), min_size=1, max_size=20))
def test_a_bar_is_as_high_as_its_figure(values):
    labels = [str(i) for i in range(len(values))]
    chart = charts.bars(title="t", description="d", labels=labels, values=values)
    heights = [float(h) for h in re.findall(r'height="([\d.]+)" fill="#e6dfd1"', chart.svg())]
    paper = 230 / ticks(0, max(values))[-1]
    assert heights == pytest.approx([v * paper for v in values], abs=0.01)


@given(low=st.floats(-1e6, 1e6), spread=st.floats(0, 1e6))
def test_an_axis_covers_its_figures_with_few_even_round_steps(low, spread):
    at = ticks(low, low + spread)
    steps = {round(b - a, 6) for a, b in pairwise(at)}
    # An axis may miss a figure by a billionth of a step, which nobody can see.
    unseen = 1e-6 + 2e-9 * max(steps)
    assert at[0] <= low + unseen
    assert at[-1] >= low + spread - unseen
    assert 2 <= len(at) <= 8
    assert max(steps) - min(steps) <= 1e-4 * max(steps)


def test_a_point_outside_the_limits_has_another_shape_than_one_inside():
    said = {"title": "t", "description": "d", "labels": ["a"], "centre": 2, "lower": 1, "upper": 3}
    inside = charts.control_chart(**said, values=[2]).svg()
    outside = charts.control_chart(**said, values=[9]).svg()
    assert "<circle" in inside
    assert "<circle" not in outside


def test_departments_differ_by_pattern_even_in_grey():
    from shopflow.common.materials import MATERIALS

    patterns = {m.pattern(0, 0, 40, 40) for m in MATERIALS.values()}
    assert len(patterns) == len(MATERIALS)


def test_red_is_kept_for_stopped_and_unsafe():
    for chart in every_kind():
        for colour in re.findall(r"#([0-9a-f]{6})", chart.svg()):
            r, g, b = (int(colour[i : i + 2], 16) for i in (0, 2, 4))
            assert not (r > 100 and g < 60 and b < 60), colour


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_what_cannot_be_drawn_is_refused_by_name(bad):
    with pytest.raises(ValueError, match="plated"):
        charts.lines(title="t", description="d", labels=["a"], series=[charts.Series("plated", [bad])])


def test_a_run_of_the_wrong_length_is_refused():
    with pytest.raises(ValueError, match="one for each label"):
        charts.bars(title="t", description="d", labels=["a", "b"], values=[1])


def test_nothing_to_show_is_still_a_chart():
    said = {"title": "t", "description": "d"}
    empty = [
        charts.lines(**said, labels=[], series=[]),
        charts.bars(**said, labels=[], values=[]),
        charts.load_bars(**said, loads=[]),
        charts.dots(**said, rows=[]),
        charts.spans(**said, rows=[]),
    ]
    for chart in empty:
        ElementTree.fromstring(chart.svg())


def test_stairs_lead_each_step_to_its_own_sum_and_have_to_rise():
    said = {"title": "t", "description": "d"}
    steps = [(100, 5), (250, 40), (900, 90)]
    chart = charts.stairs(**said, steps=steps, sign="£", address=lambda money: f"?budget={money:.0f}")
    tree = ElementTree.fromstring(chart.svg())
    assert [link.get("href") for link in tree.iter(f"{SVG}a")] == [
        "?budget=100",
        "?budget=250",
        "?budget=900",
    ]
    assert chart.rows == (("£100", 5.0), ("£250", 40.0), ("£900", 90.0))
    assert not list(ElementTree.fromstring(charts.stairs(**said, steps=steps).svg()).iter(f"{SVG}a"))
    with pytest.raises(ValueError, match="have to rise"):
        charts.stairs(**said, steps=[(250, 5), (100, 40)])
    with pytest.raises(ValueError, match="finite"):
        charts.stairs(**said, steps=[(1, float("inf"))])
    assert charts.stairs(**said, steps=[]).svg()
