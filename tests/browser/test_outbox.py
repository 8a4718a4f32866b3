"""What is typed on a tablet: each entry has its own key, is shown with its words, and never gets lost."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from shopflow.readings.models import Reading
from shopflow.workshop.models import HoursSpent, Snag, Task
from tests import cast
from tests.readings.sheet_cast import reading_kind, sheet_url, task_with_sheet

SOON = 12_000
UPRIGHT = (800, 1280)


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


@pytest.fixture
def strip(maud) -> Task:
    return cast.task(cast.operation("strip"), on=cast.instrument(by=maud, number="214"), by=maud)


def write_film(page: Page, typed: str) -> None:
    page.locator("#reading_typed").fill(typed)
    page.locator("#go-reading").tap()


def read_films() -> list[str]:
    return [row.typed for row in Reading.objects.order_by("pk")]


def waiting(page: Page):
    return page.locator("#kept li")


def hours_form(page: Page) -> None:
    page.locator("#hours-form summary").tap()


def test_three_films_written_without_a_connection_are_three_readings_in_order(open_tablet, finn, task):
    page = open_tablet(finn, sheet_url(task), size=UPRIGHT)
    page.locator("#reading > summary").tap()
    page.context.set_offline(True)
    for typed in ("100", "120", "120"):
        write_film(page, typed)
        expect(page.locator("#reading_typed")).to_have_value("")
    expect(page.locator("#wire")).to_contain_text("3 taps kept on this tablet, not received yet")
    expect(waiting(page)).to_have_count(3)
    expect(waiting(page).nth(0)).to_contain_text("Read: 100")
    expect(waiting(page).nth(2)).to_contain_text("Read: 120")
    page.context.set_offline(False)
    expect(page.locator("#wire")).to_be_hidden(timeout=2 * SOON)
    expect(page.locator("#kept")).to_have_count(0)
    assert read_films() == ["100", "120", "120"]


def test_the_next_is_written_while_an_answer_is_awaited(open_tablet, finn, task):
    page = open_tablet(finn, sheet_url(task), size=UPRIGHT)
    page.locator("#reading > summary").tap()
    held = []
    page.route("**/read/", lambda route: held.append(route))
    write_film(page, "100")
    write_film(page, "110")
    expect(waiting(page)).to_have_count(2)
    page.reload()
    expect(waiting(page)).to_have_count(2)
    page.unroute("**/read/")
    page.reload()
    expect(page.locator("#wire")).to_be_hidden(timeout=3 * SOON)
    assert read_films() == ["100", "110"]


def test_what_is_refused_later_is_corrected_from_the_list_and_sent_again(open_tablet, finn, strip):
    page = open_tablet(finn, f"/tasks/{strip.pk}/", size=UPRIGHT)
    hours_form(page)
    page.context.set_offline(True)
    for typed in ("a lot", "even more", "2"):
        page.fill("#id_other_hours", typed)
        page.locator("#hours-other").tap()
    expect(waiting(page)).to_have_count(3)
    page.context.set_offline(False)
    expect(page.locator("#wire")).to_contain_text("2 taps not taken: see why", timeout=2 * SOON)
    refused = page.locator("#not-taken li")
    expect(refused.nth(0)).to_contain_text("Other: a lot")
    expect(page.locator("#not-taken details[open]")).to_have_count(1)
    refused.nth(0).locator("summary").tap()
    expect(page.locator("#not-taken details[open]")).to_have_count(1)
    expect(refused.nth(0)).to_contain_text("write a number from 0.05 to 24")
    refused.nth(0).get_by_role("button", name="Correct it").tap()
    expect(page.locator("#id_other_hours")).to_be_in_viewport()
    expect(page.locator("#id_other_hours")).to_have_value("a lot")
    page.fill("#id_other_hours", "1.5")
    page.locator("#hours-other").tap()
    expect(refused).to_have_count(1, timeout=SOON)
    expect(page.locator(".hours-list")).to_contain_text("1.50 h", timeout=SOON)
    assert sorted(row.hours for row in HoursSpent.objects.all()) == [1.5, 2]


def test_nothing_typed_is_thrown_away_without_a_yes(open_tablet, finn, strip):
    page = open_tablet(finn, f"/tasks/{strip.pk}/", size=UPRIGHT)
    hours_form(page)
    page.fill("#id_other_hours", "a lot")
    page.locator("#hours-other").tap()
    refused = page.locator("#not-taken li")
    refused.get_by_role("button", name="Throw it away").tap(timeout=SOON)
    expect(refused).to_contain_text("Other: a lot")
    refused.get_by_role("button", name="Keep it").tap()
    page.reload()
    expect(refused).to_contain_text("Other: a lot")
    refused.get_by_role("button", name="Throw it away").tap()
    refused.get_by_role("button", name="Yes, throw it away").tap()
    expect(refused).to_have_count(0)
    page.reload()
    expect(page.locator("#page")).to_be_visible()
    expect(refused).to_have_count(0)


def test_a_refusal_is_mended_from_another_page_and_never_lies_over_the_work(open_tablet, finn, strip):
    page = open_tablet(finn, f"/tasks/{strip.pk}/", size=UPRIGHT)
    hours_form(page)
    page.fill("#id_other_hours", "a lot")
    page.locator("#hours-other").tap()
    expect(page.locator("#not-taken li")).to_have_count(1, timeout=SOON)
    page.goto("/bench/refinishing/")
    go = page.locator(f"#go-{strip.pk}")
    expect(page.locator("#wire")).to_contain_text("1 tap not taken", timeout=SOON)
    assert page.locator("#wire").bounding_box()["height"] < UPRIGHT[1] / 6
    go.tap()
    expect(go).to_contain_text("Stripped: done", timeout=SOON)
    page.locator("#not-taken").get_by_role("link", name="Open its form").tap()
    expect(page.locator("#id_other_hours")).to_have_value("a lot", timeout=SOON)


def test_a_colleague_sees_whose_it_is_but_neither_reads_nor_sends_it(open_tablet, served, finn, strip):
    from tests.browser.conftest import enrolled, sign_in

    tablet = enrolled()
    page = open_tablet(finn, f"/tasks/{strip.pk}/", size=UPRIGHT, tablet=tablet)
    hours_form(page)
    page.fill("#id_other_hours", "a lot")
    page.locator("#hours-other").tap()
    expect(page.locator("#not-taken li")).to_have_count(1, timeout=SOON)
    sign_in(page.context, served, cast.finisher("Greta Lunt"), on=tablet[0])
    page.goto(f"/tasks/{strip.pk}/")
    refused = page.locator("#not-taken li")
    expect(refused).to_contain_text("Finn Tarrow")
    expect(refused).not_to_contain_text("a lot")
    expect(refused.get_by_role("button")).to_have_count(0)


def test_a_second_snag_waits_beside_the_first(open_tablet, finn, strip):
    page = open_tablet(finn, f"/tasks/{strip.pk}/", size=UPRIGHT)
    page.context.set_offline(True)
    page.locator("#snag-form summary").tap()
    for words in ("the left hinge", "the music desk"):
        page.get_by_text("a part is missing").first.tap()
        page.fill("#snag_reason", words)
        page.locator("#snag-go").tap()
    expect(waiting(page)).to_have_count(2)
    expect(waiting(page).nth(0)).to_contain_text("the left hinge")
    page.context.set_offline(False)
    expect(page.locator("#wire")).not_to_contain_text("kept", timeout=2 * SOON)
    # Whether a second snag may be put on a task, the shop's computer says; neither is lost.
    told = Snag.objects.count() + page.locator("#not-taken li").count()
    assert told == 2
