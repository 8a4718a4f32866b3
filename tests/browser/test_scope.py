"""The Scope page in a browser: slider, field and picture say one sum, and the answer follows it."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import LANDSCAPE
from tests.offers.scope_cast import Upright

SOON = 12_000


@pytest.fixture
def there() -> Upright:
    return Upright("crack", "block", "hammers")


def price(page: Page):
    return page.locator(".outcome .sum")


def test_the_answer_follows_the_slider_by_keyboard_and_keeps_the_focus(open_tablet, there, complaints):
    page = open_tablet(there.by, "/instruments/214/scope/?budget=720", size=LANDSCAPE)
    expect(price(page)).to_have_text("£720")
    page.locator("#slide").focus()
    for _ in range(8):
        page.keyboard.press("ArrowRight")
    expect(page.locator("#id_budget")).to_have_value("800")
    expect(price(page)).to_have_text("£800", timeout=SOON)
    expect(page.locator("#slide")).to_be_focused()
    expect(page.locator("#status")).to_contain_text("£800: 2 mended", timeout=SOON)
    expect(page).to_have_url(re.compile(r"/scope/\?budget=800$"))
    assert complaints == []


def test_of_two_sums_typed_one_after_the_other_the_newest_wins(open_tablet, there):
    page = open_tablet(there.by, "/instruments/214/scope/?budget=720", size=LANDSCAPE)
    for sum_of_money in ("60", "1100"):
        page.locator("#id_budget").fill(sum_of_money)
    expect(price(page)).to_have_text("£1,100", timeout=SOON)
    page.wait_for_timeout(500)
    expect(price(page)).to_have_text("£1,100")
    expect(page.locator("#slide")).to_have_value("1100")


def test_a_step_of_the_picture_is_taken_by_a_tap(open_tablet, there):
    page = open_tablet(there.by, "/instruments/214/scope/?budget=60", size=LANDSCAPE)
    page.locator(".stairs-sheet").scroll_into_view_if_needed()
    page.locator(".stairs-sheet svg a:visible").last.click()
    expect(price(page)).to_have_text("£1,100", timeout=SOON)
    expect(page.locator("#id_budget")).to_have_value("1100")


def test_without_scripts_the_button_does_it(open_tablet, there):
    page = open_tablet(there.by, "/instruments/214/scope/?budget=720", javascript=False)
    page.locator("#id_budget").fill("800")
    page.get_by_role("button", name="What does it buy?").click()
    expect(price(page)).to_have_text("£800")
    expect(page.locator("#slide")).to_be_hidden()
