"""Contrast of the inks on their grounds, by the formula of WCAG 2.2 (relative luminance, contrast ratio).

Work text needs 7:1 (our own bar, WCAG 1.4.6), graphics and borders of controls 3:1 (WCAG 1.4.11).
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from shopflow.common.materials import MATERIALS

CSS = Path(__file__).parents[2] / "static" / "css"
TOKENS = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", (CSS / "tokens.css").read_text()))

GROUNDS = ("paper", "sheet", "shade")
WORK_TEXT = [(ink, ground) for ink in ("ink", "ink-soft", "link", "stop") for ground in GROUNDS] + [
    ("good", "good-ground"),
    ("wait", "wait-ground"),
    ("stop", "stop-ground"),
    ("ink", "good-ground"),
    ("ink", "wait-ground"),
    ("ink", "stop-ground"),
    ("gilt", "fallboard"),
    ("ivory", "fallboard"),
]
GRAPHICS = (
    [("line", ground) for ground in GROUNDS]
    + [(f"{slug}", ground) for slug in MATERIALS for ground in ("paper", "sheet", f"{slug}-ground")]
    + [(ink, ground) for ink in ("key-down", "key-line", "stop") for ground in ("paper", "sheet", "key")]
    + [("focus", ground) for ground in GROUNDS]
)


def luminance(colour: str) -> float:
    channels = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_gives_the_published_ends():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.2, definition of contrast ratio
    assert contrast("#777777", "#777777") == pytest.approx(1.0)


@pytest.mark.parametrize(("ink", "ground"), WORK_TEXT)
def test_work_text_stands_out_seven_to_one(ink, ground):
    assert contrast(TOKENS[ink], TOKENS[ground]) >= 7.0


@pytest.mark.parametrize(("ink", "ground"), GRAPHICS)
def test_graphics_and_borders_stand_out_three_to_one(ink, ground):
    assert contrast(TOKENS[ink], TOKENS[ground]) >= 3.0


def test_the_heat_table_keeps_its_figures_readable_on_every_ground():
    rules = re.findall(
        r"\.heat \.h\d \{ background: ([^;]+);(?: color: ([^;]+);)?", (CSS / "tables.css").read_text()
    )
    assert len(rules) == 6
    for ground, ink in rules:
        ground = TOKENS.get(ground.removeprefix("var(--").removesuffix(")"), ground)
        assert contrast(ink or TOKENS["ink"], ground) >= 7.0, ground


def test_pages_and_printed_charts_use_the_same_material_colours():
    for slug, material in MATERIALS.items():
        assert (TOKENS[slug], TOKENS[f"{slug}-ground"]) == (material.colour, material.ground)
