"""What every page does by itself: one act is sent once, trouble is told in words, focus stays."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.common import trial_urls
from tests.common.browser import browser, complaints, needs_browser, open_page

__all__ = ["browser", "complaints", "open_page"]
pytestmark = needs_browser


THREE_TAPS = """id => { for (const after of [0, 150, 300])
  setTimeout(() => document.getElementById(id)?.click(), after); }"""


@pytest.fixture
def trial(open_page, settings):
    settings.ROOT_URLCONF = "tests.common.trial_urls"
    trial_urls.received.clear()
    return open_page("/trial/")


def send(page, how: str) -> None:
    page.fill("#how", how)
    page.focus("#go")
    page.keyboard.press("Enter")


def said(page, words: str) -> None:
    expect(page.locator("#status")).to_contain_text(words, timeout=3000)


@pytest.mark.parametrize(
    ("status", "words"),
    [
        ("500", "could not do that"),
        ("502", "could not do that"),
        ("403", "not allowed"),
        ("404", "no longer here"),
        ("413", "too large"),
        ("429", "Wait a minute"),
        ("400", "nothing was changed"),
    ],
)
def test_a_refusal_is_told_within_three_seconds_and_what_was_typed_stays(trial, status, words):
    send(trial, status)
    said(trial, words)
    assert trial.input_value("#how") == status
    expect(trial.locator("#go")).to_be_focused()


def test_a_dropped_connection_is_told_and_nothing_is_claimed(trial):
    trial.route("**/answer/", lambda route: route.abort())
    send(trial, "200")
    said(trial, "may not have been received")


def test_a_server_that_never_answers_is_told_after_ten_seconds_at_most(trial):
    assert trial.evaluate("htmx.config.timeout") == 10000
    trial.evaluate("htmx.config.timeout = 400")
    send(trial, "slow")
    said(trial, "has not answered")


@pytest.mark.parametrize("status", ["422", "409"])
def test_an_answer_that_explains_itself_is_shown_in_place_with_the_focus_kept(trial, status):
    send(trial, status)
    trial.wait_for_selector(f"text=said {status}")
    expect(trial.locator("#go")).to_be_focused()


def test_focus_goes_to_the_control_that_the_answer_marks_as_next(trial):
    send(trial, "next")
    trial.wait_for_selector("#next")
    expect(trial.locator("#next")).to_be_focused()
    assert trial.get_attribute("#next", "data-focus-next") is None


def test_a_board_that_renews_itself_leaves_the_focus_on_the_same_link(trial):
    trial.focus("#board a")
    trial.evaluate("htmx.trigger('#board', 'refresh')")
    expect(trial.locator("text=There, newer")).to_be_focused()


def test_a_board_that_renews_itself_takes_no_focus_that_nobody_had(trial):
    trial.evaluate("htmx.trigger('#board', 'refresh')")
    trial.wait_for_selector("text=There, newer")
    trial.wait_for_timeout(200)
    assert trial.evaluate("document.activeElement === document.body")


def test_two_quick_taps_send_one_act(trial):
    trial.evaluate(THREE_TAPS, "quick-go")
    trial.wait_for_selector("#out >> text=done")
    trial.wait_for_timeout(800)  # a second act kept in a queue would be sent now
    assert trial_urls.received == ["slow"]


def test_two_quick_taps_on_a_plain_form_send_one_act(trial):
    trial.evaluate(THREE_TAPS, "plain-go")
    trial.wait_for_selector("text=done")
    assert trial_urls.received == ["plain"]


def test_the_page_says_when_the_connection_is_gone_and_takes_it_back(trial):
    trial.context.set_offline(True)
    trial.wait_for_selector("#wire:not([hidden]) >> text=No connection")
    trial.context.set_offline(False)
    trial.wait_for_selector("#wire", state="hidden")


def test_the_htmx_settings_are_the_strict_ones(trial):
    strict = {
        "allowEval": False,
        "allowScriptTags": False,
        "includeIndicatorStyles": False,
        "historyCacheSize": 0,
        "historyRestoreAsHxRequest": False,
    }
    assert {name: trial.evaluate(f"htmx.config.{name}") for name in strict} == strict
