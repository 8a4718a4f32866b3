"""The sampler in a real browser: sizes in millimetres, no sideways scrolling, nothing refused."""

from __future__ import annotations

import pytest

from tests.common.browser import browser, complaints, needs_browser, open_page

__all__ = ["browser", "complaints", "open_page"]
pytestmark = needs_browser


@pytest.fixture(autouse=True)
def sampler_open(settings):
    settings.DEBUG = True


SIZES = [(1280, 800), (1138, 712), (712, 1138), (390, 844), (320, 640)]
MM = 5.2  # CSS pixels in a millimetre at 132 to the inch

# Links inside a sentence are left out, as WCAG 2.5.8 does; a tick box is as large as its label.
MEASURE = """() => {
  const all = 'main a, main button, main input, main select, main summary, header a';
  const seen = (el) => el.getClientRects().length && !el.closest('p, .hush, .error-list');
  return [...document.querySelectorAll(all)].filter(seen).map((el) => {
    const label = el.matches('[type=radio], [type=checkbox]') ? el.closest('label') : null;
    const box = (label || el).getBoundingClientRect();
    const big = !!el.closest('.deeds, .keypad, .people');
    return { name: el.textContent.trim() || el.name, big, w: box.width, h: box.height };
  });
}"""
TEXT_SIZES = """() => {
  const walk = document.createTreeWalker(document.querySelector('main'), NodeFilter.SHOW_TEXT);
  const out = [];
  while (walk.nextNode()) {
    const [words, el] = [walk.currentNode.data.trim(), walk.currentNode.parentElement];
    if (words && el.getClientRects().length && !el.closest('.hush, svg'))
      out.push([words, parseFloat(getComputedStyle(el).fontSize)]);
  }
  return out;
}"""
SIZE_OF = "el => parseFloat(getComputedStyle(el).fontSize)"


@pytest.mark.parametrize("path", ["/sampler/", "/sampler/?bench"])
@pytest.mark.parametrize("size", SIZES)
def test_nothing_is_scrolled_sideways_and_nothing_is_refused(open_page, complaints, path, size):
    page = open_page(path, size)
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    assert complaints == []


@pytest.mark.parametrize("size", [(1138, 712), (712, 1138)])
def test_bench_targets_are_cut_for_gloves(open_page, size):
    targets = open_page("/sampler/?bench", size).evaluate(MEASURE)
    big = [t for t in targets if t["big"]]
    assert len(big) >= 20
    assert [t for t in big if min(t["w"], t["h"]) < 20 * MM] == []
    assert [t for t in targets if t["h"] < 15 * MM - 0.5] == []


def test_bench_text_can_be_read_at_arms_length(open_page):
    page = open_page("/sampler/?bench")
    sizes = page.evaluate(TEXT_SIZES)
    assert len(sizes) > 40
    assert [pair for pair in sizes if pair[1] < 21] == []
    for name in (".job-name", ".job-state", ".person-name"):
        assert page.eval_on_selector(name, SIZE_OF) >= 28


def test_a_tablets_own_millimetre_makes_its_targets_larger(open_page):
    page = open_page("/sampler/?bench&mm=6.1")
    assert page.get_attribute("html", "data-mm") == "6.1"
    assert page.eval_on_selector(".keypad .btn", "el => el.getBoundingClientRect().height") >= 20 * 6.1


def test_office_targets_are_large_enough_for_a_finger(open_page):
    targets = open_page("/sampler/", (1280, 800)).evaluate(MEASURE)
    assert len(targets) > 30
    assert [t for t in targets if min(t["w"], t["h"]) < 24] == []


def test_the_shops_own_letters_are_used(open_page):
    page = open_page("/sampler/", (1280, 800))
    page.evaluate("document.fonts.ready")
    loaded = page.evaluate("[...document.fonts].filter(f => f.status === 'loaded').map(f => f.family)")
    assert {"Fira Sans", "Vollkorn"} <= {family.strip('"') for family in loaded}


def test_the_sampler_is_closed_in_a_real_shop(client, settings):
    settings.DEBUG = False
    assert client.get("/sampler/").status_code == 404
