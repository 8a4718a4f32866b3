"""An offer in a browser: written at a desk, read and approved by its customer on a telephone."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from shopflow.customers.services import links
from shopflow.offers.models import Approval, Offer, Option
from shopflow.workshop.models import Task
from tests.offers import offer_cast

DESK, PHONE = (1280, 800), (390, 844)
SOON = 12_000
# What a thumb needs, and what a page at this width may need at most.
THUMB = 48


@pytest.fixture
def there() -> offer_cast.Piano:
    return offer_cast.piano()


@pytest.fixture
def link(there) -> str:
    offer_cast.sent(there)
    return f"/yours/{links.make(instrument=there.instrument, by=there.by).token}/"


def too_small(page: Page) -> list[str]:
    """Buttons, fields, and ticks with their words, that are lower than a thumb."""
    return page.evaluate(
        """least => [...document.querySelectorAll('button, input[type=text], .choices label, a.btn')]
            .filter(one => one.getBoundingClientRect().height < least)
            .map(one => one.outerHTML.slice(0, 80))""",
        THUMB,
    )


def is_wider_than_the_screen(page: Page) -> bool:
    return page.evaluate("document.documentElement.scrollWidth > window.innerWidth")


def read_it(page: Page) -> None:
    page.get_by_role("link", name="Read it and decide").tap()
    expect(page.get_by_role("heading", name="Our offer, version 1")).to_be_visible(timeout=SOON)
    # A page is as wide as it is only once its style sheets are there.
    page.wait_for_load_state("load")


@pytest.mark.parametrize("javascript", [True, False])
def test_a_customer_approves_on_a_telephone(open_tablet, there, link, complaints, javascript):
    page = open_tablet(None, link, size=PHONE, javascript=javascript)
    assert page.url.endswith("/yours/")
    read_it(page)
    assert not is_wider_than_the_screen(page)
    assert too_small(page) == []
    page.get_by_role("button", name="I say yes to this").tap()
    expect(page.get_by_role("alert")).to_contain_text("Nothing was approved yet", timeout=SOON)
    page.get_by_label("Keep it going").check()
    page.get_by_label("Your name").fill("Agnes Applegarth")
    page.get_by_label("Yes, I give you this order").check()
    page.get_by_role("button", name="I say yes to this").tap()
    expect(page.locator(".notice.is-good")).to_contain_text("Approved: Keep it going", timeout=SOON)
    assert Approval.objects.get().typed_name == "Agnes Applegarth"
    assert Task.objects.count() == 4
    assert complaints == []


def test_going_back_and_sending_the_form_again_counts_once(open_tablet, there, link):
    page = open_tablet(None, link, size=PHONE)
    read_it(page)
    page.get_by_label("Keep it going").check()
    page.get_by_label("Your name").fill("Agnes Applegarth")
    page.get_by_label("Yes, I give you this order").check()
    page.evaluate("const form = document.querySelector('.yes form'); form.submit(); form.submit();")
    expect(page.locator(".notice.is-good")).to_contain_text("Approved", timeout=SOON)
    page.go_back()
    page.goto("/yours/offers/1/")
    expect(page.get_by_role("button", name="I say yes to this")).to_have_count(0)
    assert Approval.objects.count() == 1


def test_the_customers_pages_ask_nobody_outside(open_tablet, there, link):
    page = open_tablet(None, "/yours/", size=PHONE)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(link)
    page.goto("/yours/offers/1/")
    home = page.evaluate("location.origin")
    assert asked
    assert [url for url in asked if not url.startswith(home)] == []
    assert [url for url in asked if url.endswith(".js")] == []


def test_the_office_writes_looks_and_sends(open_tablet, there, complaints):
    page = open_tablet(there.by, "/instruments/214/offers/", size=DESK)
    page.get_by_role("button", name="Begin a draft").click()
    page.get_by_label("To the customer").fill("Thank you for letting us look over your piano.")
    row = page.locator("tr", has_text="hammers worn").first
    expect(row.get_by_label("why it is left")).to_be_visible()
    row.get_by_label("what we do").select_option(label="Mend the hammers")
    expect(row.get_by_label("why it is left")).to_be_hidden()
    page.get_by_role("button", name="Save, and look at it").click()
    expect(page.get_by_role("heading", name="As the customer will see it")).to_be_visible(timeout=SOON)
    page.get_by_label("Send it by mail to").fill("")
    page.get_by_role("button", name="Send version 1").click()
    assert "/yours/" in page.locator("#fresh-link").input_value()
    assert Offer.objects.get().state == Offer.State.SENT
    assert not is_wider_than_the_screen(page)
    assert complaints == []


def test_the_weeks_of_the_plan_come_into_an_open_draft(open_tablet, there):
    offer_cast.draft(there, "keep-going")
    page = open_tablet(there.by, "/instruments/214/offers/1/", size=DESK)
    page.get_by_label("To the customer").fill("Half a sentence")
    expect(page.locator(".weeks")).to_contain_text("asking the plan")
    Option.objects.update(weeks_low=3, weeks_likely=4, weeks_high=5)
    expect(page.locator(".weeks")).to_contain_text("3 to 5 weeks", timeout=SOON)
    expect(page.get_by_label("To the customer")).to_have_value("Half a sentence")
