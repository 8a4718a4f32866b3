"""The keypad in a real browser: a name and six keys, large enough for a glove, in every size of glass."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from shopflow.people import pins, tablets
from shopflow.people.models import Tablet
from tests import cast
from tests.common.browser import browser, complaints, needs_browser, open_page

__all__ = ["browser", "complaints", "open_page"]
pytestmark = needs_browser
SIZES = [(712, 1138), (1138, 712), (390, 844)]


@pytest.fixture
def finn():
    cast.shop()
    return cast.person("Finn Tarrow", home=cast.department(), pin_hash=pins.make("407915"))


@pytest.fixture
def at_the_tablet(open_page, live_server, finn):
    def opener(path: str, size: tuple[int, int] = SIZES[0]):
        page = open_page("/tablet/", size)
        Tablet.objects.get_or_create(
            name="Refinishing tablet",
            defaults={"department": finn.home, "token_hash": tablets.fingerprint("secret")},
        )
        page.context.add_cookies([{"name": tablets.COOKIE, "value": "secret", "url": live_server.url}])
        page.goto(live_server.url + path)
        return page

    return opener


def type_pin(page, pin: str) -> None:
    for digit in pin:
        page.click(f"[data-digit='{digit}']")


def test_one_tap_on_a_name_and_six_on_keys_and_one_is_in(at_the_tablet, live_server, complaints):
    page = at_the_tablet("/sign-in/?next=/me/")
    page.click("text=Finn Tarrow")
    type_pin(page, "407915")
    page.wait_for_url(f"{live_server.url}/me/")
    expect(page.locator(".person-name")).to_contain_text("Finn Tarrow")
    assert complaints == []


def test_a_digit_is_taken_back_and_a_wrong_pin_leaves_the_keys_ready(at_the_tablet, finn, live_server):
    page = at_the_tablet(f"/sign-in/pin/{finn.pk}/?next=/me/")
    type_pin(page, "40791")
    page.click("[data-back]")
    assert page.input_value("input[name=pin]") == "4079"
    type_pin(page, "20")
    expect(page.locator("[role=alert]")).to_contain_text("not the PIN")
    expect(page.locator("input[name=pin]")).to_be_focused()
    type_pin(page, "407915")
    page.wait_for_url(f"{live_server.url}/me/")


def test_over_to_someone_else_in_two_taps_and_a_pin_and_back_to_the_same_page(
    at_the_tablet, finn, live_server
):
    cast.person("Ada Lund", pin_hash=pins.make("926408"))
    page = at_the_tablet(f"/sign-in/pin/{finn.pk}/?next=/me/")
    type_pin(page, "407915")
    page.wait_for_url(f"{live_server.url}/me/")
    page.click("text=Someone else")
    page.click("text=Ada Lund")
    type_pin(page, "926408")
    page.wait_for_url(f"{live_server.url}/me/")
    expect(page.locator(".person-name")).to_contain_text("Ada Lund")


@pytest.mark.parametrize("size", SIZES)
def test_names_and_keys_are_twenty_millimetres_and_nothing_runs_off_the_side(at_the_tablet, finn, size):
    for path, pressed in [("/sign-in/", ".people .btn"), (f"/sign-in/pin/{finn.pk}/", ".keypad .btn")]:
        page = at_the_tablet(path, size)
        boxes = [button.bounding_box() for button in page.locator(pressed).all()]
        assert boxes
        assert min(min(box["width"], box["height"]) for box in boxes) >= 20 * 5.2 - 0.5
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


@pytest.mark.parametrize("size", SIZES[:2])
def test_all_keys_are_on_the_glass_at_once(at_the_tablet, finn, size):
    page = at_the_tablet(f"/sign-in/pin/{finn.pk}/", size)
    boxes = [button.bounding_box() for button in page.locator(".keypad .btn").all()]
    assert len(boxes) == 12
    assert max(box["y"] + box["height"] for box in boxes) <= size[1]


def test_without_scripts_the_pin_is_typed_into_a_plain_field(browser, live_server, finn):
    Tablet.objects.create(name="Plain tablet", token_hash=tablets.fingerprint("plain"))
    context = browser.new_context(java_script_enabled=False)
    context.add_cookies([{"name": tablets.COOKIE, "value": "plain", "url": live_server.url}])
    page = context.new_page()
    page.goto(f"{live_server.url}/sign-in/pin/{finn.pk}/?next=/me/")
    assert not page.locator("#keypad").is_visible()
    page.fill("input[name=pin]", "407915")
    page.click("text=Go in")
    page.wait_for_url(f"{live_server.url}/me/")
    expect(page.locator("body")).to_have_class("bench")
    context.close()
