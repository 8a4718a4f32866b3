"""A bench sheet under gloves: answers leave typed values alone, offline nothing is lost or doubled."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from shopflow.readings.models import CautionSeen, Computed, Reading
from tests import cast
from tests.browser.conftest import LANDSCAPE, PORTRAIT
from tests.readings.sheet_cast import caution, reading_kind, sheet_url, task_with_sheet

SOON = 12_000


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud):
    return cast.finisher()


@pytest.fixture
def task(maud):
    reading_kind()
    return task_with_sheet(by=maud)


def fill_air(page: Page, **more: str) -> None:
    for name, typed in {"temp_c": "20", "rh": "65", "surface_c": "18", **more}.items():
        page.locator(f"#may-coat_{name}").fill(typed)


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE])
def test_an_answer_comes_and_what_was_typed_stays(open_tablet, finn, task, complaints, size):
    page = open_tablet(finn, sheet_url(task), size=size)
    page.locator("#film-build > summary").click()
    page.locator("#film-build_dry_um").fill("120")
    fill_air(page)
    page.locator("#go-may-coat").click()
    expect(page.locator("#answers-may-coat .verdict")).to_have_text(
        "By dew point and humidity a coat may go on.", timeout=SOON
    )
    expect(page.locator("#may-coat_surface_c")).to_have_value("18")
    expect(page.locator("#film-build_dry_um")).to_have_value("120")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert complaints == []


def test_a_value_beyond_sense_asks_and_is_kept_after_a_yes(open_tablet, finn, task):
    page = open_tablet(finn, sheet_url(task))
    fill_air(page, temp_c="200")
    page.locator("#go-may-coat").click()
    asked = page.locator("#may-coat [data-when-asked]")
    expect(asked).to_be_visible(timeout=SOON)
    expect(page.locator("#not-taken")).to_contain_text("possible is -45 to 60 °C. Measured again?")
    asked.locator("input").check()
    # Two taps closer than a glove bounces are one.
    page.wait_for_timeout(900)
    page.locator("#go-may-coat").click()
    expect(page.locator("#answers-may-coat")).to_contain_text(
        "measured again, beyond what is possible", timeout=SOON
    )
    expect(asked).to_be_hidden()
    # The question has its answer: it does not lie over the sheet until somebody puts it away.
    expect(page.locator("#not-taken li")).to_have_count(0)
    assert Computed.objects.get().measured_again


def test_a_reading_typed_without_a_connection_is_kept_and_counts_once(open_tablet, finn, task):
    page = open_tablet(finn, sheet_url(task))
    page.locator("#reading > summary").click()
    page.context.set_offline(True)
    page.locator("#reading_typed").fill("120")
    page.locator("#go-reading").click()
    expect(page.locator("#wire")).to_contain_text("1 tap kept on this tablet, not received yet")
    page.locator("#go-reading").click()
    expect(page.locator("#wire")).to_contain_text("1 tap kept on this tablet, not received yet")
    assert not Reading.objects.exists()
    page.context.set_offline(False)
    expect(page.locator("#read-off")).to_contain_text("120 µm", timeout=2 * SOON)
    assert Reading.objects.get().by == finn


def test_a_reading_whose_answer_was_lost_is_not_taken_twice(open_tablet, finn, task):
    page = open_tablet(finn, sheet_url(task))
    page.locator("#reading > summary").click()
    lost = []

    def lose_the_answer(route):
        if lost:
            return route.continue_()
        lost.append(route.request.url)
        route.fetch()
        return route.abort()

    page.route("**/read/", lose_the_answer)
    page.locator("#reading_typed").fill("120")
    page.locator("#go-reading").click()
    expect(page.locator("#read-off")).to_contain_text("120 µm", timeout=2 * SOON)
    assert Reading.objects.count() == 1


def test_cautions_fold_away_once_they_are_read(open_tablet, finn, task):
    caution("solvents-spray")
    page = open_tablet(finn, sheet_url(task))
    expect(page.locator("#cautions")).to_be_hidden()
    page.locator("#cautions-seen").click()
    expect(page.locator("#cautions-seen")).to_have_count(0, timeout=SOON)
    expect(page.locator("#cautions")).to_be_visible()
    assert CautionSeen.objects.get().person == finn


def test_without_javascript_the_sheet_works_as_plain_forms(open_tablet, finn, task):
    page = open_tablet(finn, sheet_url(task), javascript=False)
    fill_air(page)
    page.locator("#go-may-coat").click()
    assert page.url.endswith("#may-coat")
    expect(page.locator("#answers-may-coat .verdict")).to_contain_text("a coat may go on")


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE])
def test_buttons_are_made_for_gloves(open_tablet, finn, task, size):
    page = open_tablet(finn, sheet_url(task), size=size)
    too_small = page.evaluate(
        """() => {
            const mm = parseFloat(getComputedStyle(document.documentElement).getPropertyValue("--mm")) || 5.2;
            const least = { BUTTON: 20, SUMMARY: 15, INPUT: 15, A: 15 };
            const all = "button, summary, a, input:not([type=hidden], [type=radio], [type=checkbox])";
            return [...document.getElementById("bench-sheet").querySelectorAll(all)]
                .filter(one => one.checkVisibility())
                .filter(one => one.getBoundingClientRect().height < least[one.tagName] * mm - 1)
                .map(one => `${one.tagName} ${one.textContent.trim()} ${one.offsetHeight / mm}`);
        }"""
    )
    assert too_small == []


def verdict(page: Page):
    return page.locator("#answers-may-coat > .answer > .verdict")


def test_a_changed_value_puts_the_old_verdict_out_at_once_and_for_good(open_tablet, finn, task):
    page = open_tablet(finn, sheet_url(task), size=(800, 1280))
    fill_air(page)
    page.locator("#go-may-coat").tap()
    expect(verdict(page)).to_be_visible(timeout=SOON)
    expect(page.locator("#answers-may-coat > .answer > .by")).to_contain_text("20 °C")
    page.context.set_offline(True)
    page.locator("#may-coat_temp_c").fill("9")
    expect(verdict(page)).to_be_hidden()
    expect(page.locator("#answers-may-coat")).to_contain_text("does not hold for them")
    page.locator("#go-may-coat").tap()
    expect(page.locator("#wire")).to_contain_text("1 tap kept")
    expect(verdict(page)).to_be_hidden()
    # The old values have their old answer again, and only those.
    page.locator("#may-coat_temp_c").fill("20")
    expect(verdict(page)).to_be_visible()
    page.locator("#may-coat_temp_c").fill("9")
    expect(verdict(page)).to_be_hidden()
    page.context.set_offline(False)
    expect(page.locator("#answers-may-coat > .answer > .by")).to_contain_text("9 °C", timeout=2 * SOON)
    expect(verdict(page)).to_be_visible()


def test_news_of_something_else_does_not_bring_an_old_verdict_back(open_tablet, finn, task):
    page = open_tablet(finn, sheet_url(task), size=(800, 1280))
    fill_air(page)
    page.locator("#go-may-coat").tap()
    expect(verdict(page)).to_be_visible(timeout=SOON)
    page.locator("#may-coat_temp_c").fill("9")
    page.locator("#reading > summary").tap()
    page.locator("#reading_typed").fill("120")
    page.locator("#go-reading").tap()
    expect(page.locator("#read-off")).to_contain_text("120 µm", timeout=SOON)
    expect(verdict(page)).to_be_hidden()
