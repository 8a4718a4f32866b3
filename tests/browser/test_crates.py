"""Crates with gloves on: a keypad, a scanner that types, counts in large steps, taps that wait offline."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from shopflow.instruments.models import CrateMove
from tests import cast
from tests.browser.conftest import LANDSCAPE, PORTRAIT

SOON = 12_000


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud):
    return cast.finisher()


@pytest.fixture
def box(maud, finn):
    piano = cast.instrument(by=maud, number="214")
    return cast.crate(piano, by=finn, number=31, holds="4 × lid hinges, 12 × hinge screws")


def unfold(page: Page, name: str) -> None:
    page.locator(f"#{name}-form > summary").tap()


def all_of(page: Page, slot: str, part: str):
    return page.locator(f"#{slot}-form").get_by_role("button", name=f"all 12 of {part}")


def test_a_scanner_types_the_address_and_a_hand_uses_the_keypad(open_tablet, finn, box, complaints):
    page = open_tablet(finn, "/crates/")
    expect(page.locator("#id_number")).to_be_focused()
    page.keyboard.type("http://shop.example/crates/31/")
    page.keyboard.press("Enter")
    page.wait_for_url("**/crates/31/")
    page.goto("/crates/")
    for digit in "331":
        page.locator(f'.keypad [data-digit="{digit}"]').tap()
    page.get_by_role("button", name="Take the last digit back").tap()
    page.get_by_role("button", name="Take the last digit back").tap()
    page.locator('.keypad [data-digit="1"]').tap()
    assert page.input_value("#id_number") == "31"
    page.locator(".keypad .btn-main").tap()
    page.wait_for_url("**/crates/31/")
    expect(page.locator(".crate-plate")).to_have_text("31")
    assert complaints == []


def test_counted_out_offline_and_in_again_one_short_with_large_steps(
    open_tablet, finn, box, maud, complaints
):
    page = open_tablet(finn, "/crates/31/", size=LANDSCAPE)
    page.context.set_offline(True)
    unfold(page, "out")
    page.get_by_label("Goes to").fill("Tidewater Plating")
    page.locator("#out_second").select_option(label="Maud Ferrier")
    page.locator("#out-go").tap()
    expect(page.locator("#wire")).to_contain_text("1 tap kept on this tablet")
    page.locator("#out-go").tap()
    page.context.set_offline(False)
    expect(page.locator("#wire")).to_be_hidden(timeout=2 * SOON)
    expect(page.locator(".crate-lines")).to_contain_text("4 counted out of 4", timeout=SOON)
    assert CrateMove.objects.filter(kind="out").count() == 1
    unfold(page, "in")
    all_of(page, "in", "hinge screws").tap()
    hinges = page.locator("#in-form")
    hinges.get_by_role("button", name="all 4 of lid hinges").tap()
    hinges.get_by_role("button", name="one less of lid hinges").tap()
    page.locator("#in_second").select_option(label="Maud Ferrier")
    page.locator("#in-go").tap()
    expect(page.locator(".snag")).to_contain_text("Missing: 1 of 4 × lid hinges", timeout=SOON)
    assert complaints == []


def test_a_half_filled_count_is_not_taken_away_by_news(open_tablet, finn, box, maud):
    page = open_tablet(finn, "/crates/31/")
    unfold(page, "out")
    page.get_by_label("Goes to").fill("Tidewater")
    page.evaluate("() => window.htmx.trigger(document.body, 'tap-answered')")
    page.wait_for_timeout(1500)
    assert page.get_by_label("Goes to").input_value() == "Tidewater"


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE, (390, 844)])
@pytest.mark.parametrize("path", ["/crates/", "/crates/31/", "/instruments/214/crates/"])
def test_nothing_runs_off_the_side_and_every_deed_is_large_enough(open_tablet, finn, box, path, size):
    page = open_tablet(finn, path, size=size)
    wide = page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 1
    small = page.evaluate(
        """() => [...document.querySelectorAll("main .btn, main summary, main .crate-link")]
            .filter((one) => one.offsetParent)
            .map((one) => [one.textContent.trim(), one.getBoundingClientRect().height])
            .filter(([, high]) => high < 15 * 5.2 - 1)"""
    )
    assert small == []


def test_tags_print_to_the_millimetre_eight_to_a_page_and_nothing_else(open_tablet, finn, box, maud):
    for _ in range(7):
        cast.crate(box.instrument, by=finn)
    page = open_tablet(finn, "/instruments/214/tags/", size=(1280, 800))
    page.emulate_media(media="print")
    tag = page.locator(".tag").nth(1).bounding_box()
    mm = 96 / 25.4
    assert (round(tag["width"] / mm), round(tag["height"] / mm)) == (90, 62)
    assert not page.locator("main form").is_visible()
    assert not page.locator(".fallboard").is_visible()
    sheet = page.pdf(format="A4", prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", sheet)) == 2, "nine tags: eight and one"
