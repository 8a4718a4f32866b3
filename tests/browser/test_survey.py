"""A survey on a tablet: what is typed survives sleep and reload, for its person alone, and is saved once."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from shopflow.instruments.models import Finding, Survey, SurveyDraft
from shopflow.photos.models import Photo
from tests import cast
from tests.browser.conftest import LANDSCAPE, PORTRAIT
from tests.instruments import survey_cast
from tests.photos import pictures

SOON = 12_000
PART = "/instruments/214/survey/part/board/"
FORM = f"{PART}found/SB2/"


@pytest.fixture
def finn():
    cast.shop()
    maud, finn = cast.manager(), cast.finisher()
    survey_cast.begin(cast.instrument(by=maud, number="214"), by=finn)
    return finn


def kept(page: Page):
    return page.locator("#finding-form .kept")


def words(page: Page):
    return page.get_by_label("What exactly, and where")


def wait_until(page: Page, true: Callable[[], bool]) -> None:
    for _ in range(SOON // 200):
        if true():
            return
        page.wait_for_timeout(200)
    raise AssertionError("it did not come about")


def test_a_half_typed_finding_survives_a_reload_and_is_saved_once(open_tablet, finn, complaints):
    page = open_tablet(finn, FORM)
    words(page).fill("under the bass bri")
    expect(kept(page)).to_contain_text("Half done, kept at", timeout=SOON)
    page.reload()
    expect(words(page)).to_have_value("under the bass bri")
    words(page).fill("under the bass bridge")
    page.get_by_role("button", name="Write it down").dblclick()
    page.wait_for_url("**/part/board/#found", timeout=SOON)
    expect(page.get_by_text("under the bass bridge")).to_be_visible()
    assert Finding.objects.count() == 1
    page.wait_for_timeout(1500)
    assert not SurveyDraft.objects.exists()
    assert complaints == []


def test_what_was_typed_in_the_moment_the_page_is_left_is_kept(open_tablet, finn):
    page = open_tablet(finn, FORM)
    words(page).fill("called away")
    page.goto("/floor/")
    # What was on its way when the page was left may come after the next page.
    wait_until(page, SurveyDraft.objects.exists)
    page.goto(PART)
    expect(page.get_by_text("Half done: Crack, open or buzzing")).to_be_visible(timeout=SOON)
    page.get_by_role("link", name="Go on with it").click()
    expect(words(page)).to_have_value("called away")


def test_without_a_connection_it_says_so_keeps_the_words_and_saves_them_later(open_tablet, finn):
    page = open_tablet(finn, FORM)
    page.context.set_offline(True)
    words(page).fill("typed in the cellar")
    page.get_by_role("button", name="Write it down").click()
    expect(kept(page)).to_contain_text("Not saved: no answer", timeout=SOON)
    expect(words(page)).to_have_value("typed in the cellar")
    assert not Finding.objects.exists()
    page.context.set_offline(False)
    page.get_by_role("button", name="Write it down").click()
    page.wait_for_url("**/part/board/#found", timeout=SOON)
    assert Finding.objects.get().words == "typed in the cellar"


def test_a_plain_form_is_not_lost_without_a_connection(open_tablet, finn):
    page = open_tablet(finn, PART)
    page.context.set_offline(True)
    page.get_by_label("Because").fill("behind the plate")
    page.get_by_role("button", name="Only partly seen").click()
    expect(page.locator("#close-form .kept")).to_contain_text("Not saved: no connection")
    expect(page.get_by_label("Because")).to_have_value("behind the plate")


def test_nothing_typed_stays_in_the_browser_for_the_next_person(open_tablet, finn):
    page = open_tablet(finn, FORM)
    words(page).fill("a canary beside the piano")
    expect(kept(page)).to_contain_text("kept at", timeout=SOON)
    stored = page.evaluate("() => JSON.stringify([{...localStorage}, {...sessionStorage}])")
    assert "canary" not in stored


def test_a_photo_is_one_tap_away_and_waits_out_a_lost_connection(open_tablet, finn, tmp_path):
    survey_cast.crack(Survey.objects.get(), by=finn)
    shot = tmp_path / "shot.jpg"
    shot.write_bytes(pictures.jpeg())
    page = open_tablet(finn, PART)
    page.context.set_offline(True)
    page.get_by_label("Take a photo").set_input_files(shot)
    expect(page.locator("#wire")).to_contain_text("1 photo kept on this tablet", timeout=SOON)
    assert not Photo.objects.exists()
    page.context.set_offline(False)
    expect(page.locator("#wire")).to_be_hidden(timeout=2 * SOON)
    expect(page.get_by_text("copies being made")).to_be_visible(timeout=SOON)
    assert Photo.objects.get().finding == Finding.objects.get()


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE, (390, 780)])
def test_targets_are_large_and_nothing_runs_out_of_the_page(open_tablet, finn, size):
    survey_cast.crack(Survey.objects.get(), by=finn)
    for path in ("/instruments/214/survey/", PART, FORM):
        page = open_tablet(finn, path, size=size)
        wide = page.evaluate("() => [document.documentElement.scrollWidth, innerWidth]")
        assert wide[0] <= wide[1]
        small = page.evaluate(
            """() => [...document.querySelectorAll("main a.btn, main button, main .pick, main .part")]
                .map(one => [one.innerText, one.getBoundingClientRect()])
                .filter(([, box]) => box.width && box.height < 48).map(([words]) => words)"""
        )
        assert small == []
