"""Photos at a tablet without a connection, and a pair of photos under the keys of a keyboard."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from shopflow.photos import services
from shopflow.photos.models import Photo, PhotoMark
from tests import cast
from tests.browser.conftest import LANDSCAPE, enrolled, sign_in
from tests.photos import pictures

SOON = 12_000


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud):
    return cast.finisher()


@pytest.fixture
def piano(maud):
    return cast.instrument(by=maud, number="214")


@pytest.fixture
def strip(piano, maud):
    return cast.task(cast.operation("strip"), on=piano, by=maud)


def choose(page: Page, *contents: bytes) -> None:
    sent = [
        {"name": f"lid-{n}.jpg", "mimeType": "image/jpeg", "buffer": content}
        for n, content in enumerate(contents)
    ]
    page.set_input_files("#choose", sent)


def send(page: Page, *contents: bytes) -> None:
    choose(page, *contents)
    page.locator("#send-photos").tap()


def wire(page: Page):
    return page.locator("#wire")


def ready(piano, by, **given) -> Photo:
    file = pictures.file(pictures.jpeg((320, 240)))
    given = {"role": "before", "caption": "lid"} | given
    return services.make_copies(services.add_photo(instrument=piano, file=file, by=by, **given))


def test_a_photo_is_kept_on_the_tablet_and_received_once(open_tablet, finn, piano, complaints):
    page = open_tablet(finn, "/instruments/214/photos/")
    page.get_by_label("before").check()
    page.get_by_label("What it shows").fill("the lid")
    send(page, pictures.jpeg())
    expect(page.locator("#status")).to_have_text("1 photo is received.", timeout=SOON)
    expect(page.locator("#photos")).to_contain_text("1 photo received", timeout=SOON)
    photo = Photo.objects.get()
    assert (photo.role, photo.caption, photo.added_by) == ("before", "the lid", finn)
    assert complaints == []


def test_photos_taken_without_a_connection_are_sent_once_when_it_is_back(open_tablet, finn, piano, strip):
    page = open_tablet(finn, f"/tasks/{strip.pk}/photos/")
    page.context.set_offline(True)
    send(page, pictures.jpeg(), pictures.png())
    expect(wire(page)).to_contain_text("2 photos kept on this tablet, not received yet")
    page.wait_for_timeout(900)
    send(page, pictures.jpeg((80, 60)))
    expect(wire(page)).to_contain_text("3 photos kept on this tablet, not received yet")
    assert not Photo.objects.exists()
    page.context.set_offline(False)
    expect(wire(page)).to_be_hidden(timeout=2 * SOON)
    assert Photo.objects.filter(at_task__task=strip, added_by=finn).count() == 3


def test_a_kept_photo_survives_a_reload_and_an_answer_lost_on_the_way_back(open_tablet, finn, piano):
    page = open_tablet(finn, "/instruments/214/photos/")
    lost = []

    def swallow_the_first_answer(route):
        if route.request.method != "POST" or lost:
            return route.continue_()
        lost.append(route.fetch())
        return route.abort()

    page.route(
        "**/photos/", lambda route: route.abort() if route.request.method == "POST" else route.continue_()
    )
    send(page, pictures.jpeg())
    expect(wire(page)).to_contain_text("1 photo kept")
    page.reload()
    expect(wire(page)).to_contain_text("1 photo kept")
    page.unroute("**/photos/")
    page.route("**/photos/", swallow_the_first_answer)
    expect(wire(page)).to_be_hidden(timeout=3 * SOON)
    assert lost[0].status == 200
    assert Photo.objects.count() == 1


def test_a_tap_does_not_wait_for_a_large_photo_of_another_piano(open_tablet, finn, piano, strip, maud):
    other = cast.task(cast.operation("sand"), on=cast.instrument(by=maud, number="215"), by=maud)
    page = open_tablet(finn, f"/tasks/{strip.pk}/photos/")
    page.context.route(
        "**/photos/", lambda route: None if route.request.method == "POST" else route.continue_()
    )
    send(page, pictures.jpeg())
    expect(wire(page)).to_contain_text("1 photo kept")
    page.goto("/bench/refinishing/")
    page.locator(f"#go-{other.pk}").tap()
    expect(page.locator(f"#go-{other.pk}")).to_contain_text("Stripped: done", timeout=SOON)
    page.wait_for_timeout(900)
    page.locator(f"#go-{strip.pk}").tap()
    expect(wire(page)).to_contain_text("1 tap and 1 photo kept", timeout=SOON)
    strip.refresh_from_db()
    assert strip.stage.code == "rack", "the photo of this piano comes first"


def test_what_is_refused_is_told_with_its_reason(open_tablet, finn, piano):
    page = open_tablet(finn, f"/instruments/{piano.number}/photos/")
    send(page, pictures.heic())
    expect(page.locator("#not-taken")).to_contain_text("This is a HEIC photo", timeout=SOON)
    page.locator("#not-taken").get_by_role("button", name="Throw it away").tap()
    page.locator("#not-taken").get_by_role("button", name="Yes, throw it away").tap()
    expect(page.locator("#not-taken li")).to_have_count(0)
    assert not Photo.objects.exists()


def test_a_photo_too_large_for_the_shop_is_not_even_kept(open_tablet, finn, piano, settings):
    settings.PHOTO_MAX_BYTES = 200_000
    page = open_tablet(finn, "/instruments/214/photos/")
    send(page, pictures.jpeg() + b"x" * 300_000, pictures.jpeg())
    expect(page.locator("#status")).to_contain_text("1 photo is received", timeout=SOON)
    assert Photo.objects.count() == 1


def test_a_photo_kept_over_a_switch_is_sent_as_the_one_who_took_it(open_tablet, served, finn, piano):
    tablet = enrolled()
    page = open_tablet(finn, "/instruments/214/photos/", tablet=tablet)
    page.route(
        "**/photos/", lambda route: route.abort() if route.request.method == "POST" else route.continue_()
    )
    page.get_by_label("What it shows").fill("canary of Finn")
    send(page, pictures.jpeg())
    expect(wire(page)).to_contain_text("1 photo kept")
    with page.expect_navigation():
        page.get_by_role("button", name="Sign out").tap()
    greta = cast.finisher("Greta Lunt")
    sign_in(page.context, served, greta, on=tablet[0])
    page.goto("/bench/refinishing/")
    assert "canary" not in page.content(), "what Finn keeps here is not shown to Greta"
    page.unroute("**/photos/")
    expect(wire(page)).to_be_hidden(timeout=2 * SOON)
    assert Photo.objects.get().added_by == finn
    left = page.evaluate(
        """() => new Promise((done) => { const open = indexedDB.open("taps", 1);
            open.onsuccess = () => { const all = open.result.transaction("taps").objectStore("taps").getAll();
                all.onsuccess = () => done(all.result.length); }; })"""
    )
    kept = page.evaluate("() => JSON.stringify({...localStorage}) + JSON.stringify({...sessionStorage})")
    assert (left, "canary" in kept) == (0, False)


def test_at_a_desk_a_photo_waits_for_its_own_person_and_holds_up_nobody(open_tablet, served, finn, piano):
    page = open_tablet(finn, "/instruments/214/photos/")
    page.route(
        "**/photos/", lambda route: route.abort() if route.request.method == "POST" else route.continue_()
    )
    send(page, pictures.jpeg())
    expect(wire(page)).to_contain_text("1 photo kept")
    sign_in(page.context, served, cast.finisher("Greta Lunt"))
    page.unroute("**/photos/")
    page.goto("/instruments/214/photos/")
    expect(wire(page)).to_contain_text("1 photo kept here for Finn Tarrow, who has to sign in", timeout=SOON)
    send(page, pictures.png())
    expect(page.locator("#status")).to_have_text("1 photo is received.", timeout=SOON)
    sign_in(page.context, served, finn)
    page.goto("/instruments/214/photos/")
    expect(wire(page)).to_be_hidden(timeout=2 * SOON)
    assert [photo.added_by.name for photo in Photo.objects.order_by("pk")] == ["Greta Lunt", "Finn Tarrow"]


def test_without_a_script_the_form_sends_the_photo_itself(open_tablet, finn, piano):
    page = open_tablet(finn, "/instruments/214/photos/", javascript=False)
    choose(page, pictures.jpeg())
    page.get_by_label("before").check()
    page.locator("#send-photos").click()
    expect(page.get_by_text("1 photo is received.")).to_be_visible(timeout=SOON)
    assert Photo.objects.count() == 1


class TestPair:
    @pytest.fixture
    def pair(self, piano, finn):
        return ready(piano, finn), ready(piano, finn, role="after")

    def test_the_slider_works_by_keyboard_and_says_what_it_shows(self, open_tablet, finn, pair, complaints):
        page = open_tablet(finn, "/instruments/214/photos/", size=LANDSCAPE)
        slider = page.get_by_role("slider", name="before to after")
        slider.focus()
        before = page.locator(".pair-stage > a:last-child img").evaluate(
            "one => getComputedStyle(one).clipPath"
        )
        for _ in range(10):
            page.keyboard.press("ArrowRight")
        after = page.locator(".pair-stage > a:last-child img").evaluate(
            "one => getComputedStyle(one).clipPath"
        )
        assert (slider.input_value(), before != after, "40%" in after) == ("60", True, True)
        assert slider.get_attribute("aria-valuetext") == "60 % after, 40 % before"
        page.keyboard.press("Home")
        assert slider.input_value() == "0"
        assert complaints == []

    def test_without_a_script_the_two_stand_side_by_side(self, open_tablet, finn, pair):
        page = open_tablet(finn, "/instruments/214/photos/", size=LANDSCAPE, javascript=False)
        left, right = (page.locator("figure.pair img").nth(n).bounding_box() for n in (0, 1))
        assert abs(left["y"] - right["y"]) < 2
        assert right["x"] > left["x"] + left["width"] - 2
        assert page.locator("input[type=range]").count() == 0


class TestMarks:
    def tapped(self, page: Page, x: float, y: float) -> None:
        frame = page.locator("#mark-picture").bounding_box()
        page.touchscreen.tap(frame["x"] + x * frame["width"], frame["y"] + y * frame["height"])

    def test_a_tap_on_the_picture_puts_the_next_number_there(self, open_tablet, finn, piano, complaints):
        photo = ready(piano, finn)
        page = open_tablet(finn, f"/photos/{photo.key}/marks/", size=LANDSCAPE)
        for number, place in enumerate(((0.3, 0.5), (0.7, 0.4)), start=1):
            page.locator("#mark-picture").scroll_into_view_if_needed()
            page.wait_for_timeout(100)
            self.tapped(page, *place)
            expect(page.locator(".notices")).to_contain_text(f"Crack {number} is marked", timeout=SOON)
        marks = [
            (m.number, m.kind, round(m.x, 1), round(m.y, 1)) for m in PhotoMark.objects.order_by("number")
        ]
        assert marks == [(1, "crack", 0.3, 0.5), (2, "crack", 0.7, 0.4)]
        assert complaints == []

    def test_by_keyboard_the_place_is_written_in_figures(self, open_tablet, finn, piano):
        page = open_tablet(finn, f"/photos/{ready(piano, finn).key}/marks/", size=LANDSCAPE)
        page.locator("#mark-picture").focus()
        page.keyboard.press("Enter")
        expect(page.get_by_label("From the left, %")).to_be_focused()
        page.keyboard.type("30")
        page.get_by_label("From the top, %").fill("12,5")
        page.keyboard.press("Enter")
        expect(page.locator(".notices")).to_contain_text("Crack 1 is marked", timeout=SOON)
        mark = PhotoMark.objects.get()
        assert (mark.x, mark.y) == (0.3, 0.125)

    def test_without_a_script_the_browser_sends_where_the_picture_was_tapped(self, open_tablet, finn, piano):
        page = open_tablet(
            finn, f"/photos/{ready(piano, finn).key}/marks/", javascript=False, size=(1280, 900)
        )
        page.locator("#mark-picture").click(position={"x": 480, "y": 180})
        expect(page.locator(".notices")).to_contain_text("Crack 1 is marked", timeout=SOON)
        mark = PhotoMark.objects.get()
        assert (round(mark.x, 2), round(mark.y, 2)) == (0.5, 0.25)
