"""Strings and keys entered by keyboard and by finger: large targets, Enter goes on, nothing is covered."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from shopflow.readings.models import KeyWeight, ScaleNote
from shopflow.readings.services import scale as scales
from tests import cast
from tests.browser.conftest import LANDSCAPE, PORTRAIT
from tests.readings.scale_cast import FACTS

SOON = 12_000


@pytest.fixture
def piano():
    cast.shop()
    return cast.instrument(by=cast.manager(), number="214")


@pytest.fixture
def sten():
    return cast.person("Sten Marlow", home=cast.department("stringing"))


@pytest.fixture
def scale(piano, sten):
    return scales.start_scale(instrument=piano, by=sten, facts=FACTS)


def too_small(page: Page) -> list[str]:
    """Buttons and fields under 20 mm of the screen (the page's own millimetre), and small words of a form."""
    return page.evaluate(
        """() => {
            const mm = parseFloat(getComputedStyle(document.documentElement).getPropertyValue("--mm"));
            return [...document.querySelectorAll("main .deeds .btn, main .note-fields input[type=text]")]
                .filter(one => one.checkVisibility())
                .filter(one => one.getBoundingClientRect().height < 20 * mm - 1)
                .map(one => one.textContent.trim() || one.name);
        }"""
    )


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE])
def test_note_after_note_by_keyboard_alone(open_tablet, sten, scale, complaints, size):
    page = open_tablet(sten, f"/instruments/214/scale/{scale.pk}/note/49/", size=size)
    expect(page.locator("#id_length_mm")).to_be_focused()
    page.keyboard.type("400")
    page.locator("#id_wire").fill("16")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("50", timeout=SOON)
    expect(page.locator("#id_length_mm")).to_be_focused()
    assert page.locator("#id_wire").input_value() == "16"
    page.keyboard.type("378")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_contain_text("51", timeout=SOON)
    assert page.url.endswith("/note/51/")
    page.get_by_role("button", name="Same as last").click()
    expect(page.get_by_text("usual is 1 to 10 % less")).to_be_visible(timeout=SOON)
    assert list(ScaleNote.objects.values_list("note", "length_mm")) == [(49, 400.0), (50, 378.0)]
    assert too_small(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_without_a_connection_what_was_typed_stays(open_tablet, piano):
    hand = cast.person("Ada Lund", home=cast.department("action"))
    page = open_tablet(hand, "/instruments/214/touch/before/1/", size=LANDSCAPE)
    page.locator("#id_down_g").fill("52")
    page.locator("#id_up_g").fill("28")
    page.context.set_offline(True)
    page.get_by_role("button", name="Keep, next").click()
    expect(page.locator("#status")).to_contain_text("what you typed is still here", timeout=SOON)
    assert page.locator("#id_down_g").input_value() == "52"
    page.context.set_offline(False)
    page.get_by_role("button", name="Keep, next").click()
    page.wait_for_url("**/touch/before/2/", timeout=SOON)
    assert KeyWeight.objects.count() == 1


def test_without_javascript_the_form_goes_on_too(open_tablet, piano):
    hand = cast.person("Ada Lund", home=cast.department("action"))
    page = open_tablet(hand, "/instruments/214/touch/before/1/", size=LANDSCAPE, javascript=False)
    page.locator("#id_down_g").fill("52")
    page.locator("#id_up_g").fill("28")
    page.get_by_role("button", name="Keep, next").click()
    page.wait_for_url("**/touch/before/2/", timeout=SOON)
    assert KeyWeight.objects.count() == 1


def test_key_after_key_enter_goes_from_down_to_up_to_the_next_key(open_tablet, piano, complaints):
    hand = cast.person("Ada Lund", home=cast.department("action"))
    page = open_tablet(hand, "/instruments/214/touch/before/1/", size=LANDSCAPE)
    for note, (down, up) in enumerate((("52", "28"), ("51,5", "27"), ("53", "29")), start=1):
        expect(page.locator("h1")).to_contain_text(str(note), timeout=SOON)
        expect(page.locator("#id_down_g")).to_be_focused()
        page.keyboard.type(down)
        page.keyboard.press("Enter")
        expect(page.locator("#id_up_g")).to_be_focused()
        page.keyboard.type(up)
        page.keyboard.press("Enter")
    page.wait_for_url("**/touch/before/4/", timeout=SOON)
    assert list(KeyWeight.objects.values_list("note", "down_g", "up_g")) == [
        (1, 52.0, 28.0),
        (2, 51.5, 27.0),
        (3, 53.0, 29.0),
    ]
    assert too_small(page) == []
