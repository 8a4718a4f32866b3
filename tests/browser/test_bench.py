"""A gloved hand at a tablet: one tap counts once, is never lost, and says honestly where it is."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from shopflow.people.models import Person
from shopflow.workshop.models import HoursSpent, Move, Snag, Task
from tests import cast
from tests.browser.conftest import LANDSCAPE, PORTRAIT, enrolled, sign_in

BENCH = "/bench/refinishing/"
UPRIGHT = (800, 1280)
SOON = 12_000


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud) -> Person:
    return cast.finisher()


@pytest.fixture
def strip(maud) -> Task:
    piano = cast.instrument(by=maud, number="214", fragile="cracked music desk")
    return cast.task(cast.operation("strip"), on=piano, by=maud)


def go(page: Page, task: Task):
    return page.locator(f"#go-{task.pk}")


def wire(page: Page):
    return page.locator("#wire")


def cut_off(page: Page) -> None:
    """From now on no tap of this page reaches the shop's computer."""
    page.route("**/tasks/*/**", lambda route: route.abort())


def stage_of(task: Task) -> str:
    task.refresh_from_db()
    return task.stage.code


def test_a_finisher_marks_a_stage_with_one_tap(open_tablet, finn, strip, complaints):
    page = open_tablet(finn, BENCH)
    go(page, strip).tap()
    expect(page.locator("#status")).to_have_text("214: “on the rack” → “stripped”.", timeout=SOON)
    expect(go(page, strip)).to_contain_text("Stripped: done", timeout=SOON)
    expect(go(page, strip)).to_be_focused()
    move = Move.objects.get()
    assert (move.by, move.target.code) == (finn, "stripped")
    assert (move.recorded_at - move.tapped_at).total_seconds() < 5
    assert complaints == []


def test_the_tap_is_said_to_be_kept_at_once_and_received_only_when_it_was(open_tablet, finn, strip):
    page = open_tablet(finn, BENCH)
    cut_off(page)
    took = page.evaluate(
        """id => new Promise(done => {
            const began = performance.now();
            document.getElementById(id).click();
            const look = () => document.querySelector(".tap-state")?.textContent === "kept on this tablet"
                ? done(performance.now() - began) : requestAnimationFrame(look);
            look();
        })""",
        f"go-{strip.pk}",
    )
    assert took <= 300
    expect(wire(page)).to_contain_text("1 tap kept on this tablet, not received yet")
    assert "received" not in page.locator(".tap-state").inner_text().replace("not received", "")
    assert not Move.objects.exists()


def test_a_double_tap_is_one_move(open_tablet, finn, strip):
    page = open_tablet(finn, BENCH)
    sent = []
    page.on("request", lambda request: sent.append(request.url) if request.method == "POST" else None)
    page.evaluate(
        """id => { for (const ms of [0, 30, 120, 400, 700])
            setTimeout(() => document.getElementById(id)?.click(), ms) }""",
        f"go-{strip.pk}",
    )
    expect(go(page, strip)).to_contain_text("Stripped: done", timeout=SOON)
    assert Move.objects.count() == 1
    assert len(sent) == 1


def test_taps_made_without_a_connection_are_sent_when_it_is_back(open_tablet, finn, strip, maud):
    other = cast.task(cast.operation("sand"), on=cast.instrument(by=maud, number="215"), by=maud)
    page = open_tablet(finn, BENCH)
    page.context.set_offline(True)
    go(page, strip).tap()
    go(page, other).tap()
    expect(wire(page)).to_contain_text("2 taps kept on this tablet, not received yet")
    assert not Move.objects.exists()
    page.context.set_offline(False)
    expect(wire(page)).to_be_hidden(timeout=2 * SOON)
    assert (stage_of(strip), stage_of(other)) == ("stripped", "stripped")
    assert Move.objects.count() == 2


def test_a_kept_tap_survives_a_reload_and_is_not_made_twice(open_tablet, finn, strip):
    page = open_tablet(finn, BENCH)
    page.route("**/move/", lambda route: route.abort())
    go(page, strip).tap()
    expect(wire(page)).to_contain_text("1 tap kept")
    page.reload()
    expect(wire(page)).to_contain_text("1 tap kept")
    expect(page.locator(".tap-state")).to_have_text("kept on this tablet")
    go(page, strip).tap()
    expect(wire(page)).to_contain_text("1 tap kept")
    page.unroute("**/move/")
    expect(go(page, strip)).to_contain_text("Stripped: done", timeout=2 * SOON)
    assert Move.objects.count() == 1


def test_a_tap_made_in_the_moment_the_page_is_left_is_kept(open_tablet, finn, strip):
    page = open_tablet(finn, BENCH)
    cut_off(page)
    with page.expect_navigation():
        page.evaluate(
            "id => { document.getElementById(id).click(); location.href = '/bench/?all'; }", f"go-{strip.pk}"
        )
    expect(wire(page)).to_contain_text("1 tap kept", timeout=SOON)
    page.unroute("**/tasks/*/**")
    expect(wire(page)).to_be_hidden(timeout=2 * SOON)
    assert stage_of(strip) == "stripped"


def test_an_answer_lost_on_the_way_back_makes_no_second_move(open_tablet, finn, strip):
    page = open_tablet(finn, BENCH)
    lost = []

    def swallow_first_answer(route):
        if lost:
            return route.continue_()
        lost.append(route.fetch())
        return route.abort()

    page.route("**/move/", swallow_first_answer)
    go(page, strip).tap()
    expect(go(page, strip)).to_contain_text("Stripped: done", timeout=2 * SOON)
    expect(wire(page)).to_be_hidden(timeout=2 * SOON)
    assert lost[0].status == 200
    assert Move.objects.count() == 1


def test_the_second_of_two_tablets_is_told_who_was_first_and_nothing_is_lost(open_tablet, finn, strip):
    greta = cast.finisher("Greta Lunt")
    first, second = open_tablet(finn, BENCH), open_tablet(greta, BENCH, size=LANDSCAPE)
    second.context.set_offline(True)
    go(second, strip).tap()
    expect(wire(second)).to_contain_text("1 tap kept")
    go(first, strip).tap()
    expect(go(first, strip)).to_contain_text("Stripped: done", timeout=SOON)
    second.context.set_offline(False)
    told = second.locator("#not-taken")
    expect(told).to_contain_text("already at “stripped”", timeout=2 * SOON)
    expect(told).to_contain_text("moved by Finn Tarrow")
    expect(go(second, strip)).to_contain_text("Stripped: done", timeout=SOON)
    second.reload()
    expect(told).to_contain_text("moved by Finn Tarrow")
    told.get_by_role("button", name="Read").tap()
    expect(told.locator("li")).to_have_count(0)
    second.reload()
    expect(told).to_have_count(0)
    assert [(move.by, move.target.code) for move in Move.objects.all()] == [(finn, "stripped")]


def test_tablets_see_each_others_moves_within_five_seconds(open_tablet, finn, strip):
    page = open_tablet(cast.finisher("Greta Lunt"), BENCH)
    expect(go(page, strip)).to_contain_text("Take to the bench")
    page.wait_for_timeout(1500)
    cast.send(strip, "stripped", by=finn)
    expect(go(page, strip)).to_contain_text("Stripped: done", timeout=5000)


def test_a_tap_kept_over_a_switch_of_persons_is_sent_as_the_one_who_tapped(open_tablet, served, finn, strip):
    tablet = enrolled()
    page = open_tablet(finn, BENCH, tablet=tablet)
    page.route("**/move/", lambda route: route.abort())
    go(page, strip).tap()
    expect(wire(page)).to_contain_text("1 tap kept")
    with page.expect_navigation():
        page.get_by_role("button", name="Sign out").tap()
    sign_in(page.context, served, cast.finisher("Greta Lunt"), on=tablet[0])
    page.unroute("**/move/")
    page.goto(BENCH)
    expect(go(page, strip)).to_contain_text("Stripped: done", timeout=2 * SOON)
    move = Move.objects.get()
    assert (move.by, move.tablet) == (finn, tablet[0])


def test_a_tap_of_somebody_who_did_not_sign_out_waits_for_that_person(open_tablet, served, finn, strip):
    tablet = enrolled()
    page = open_tablet(finn, BENCH, tablet=tablet)
    page.route("**/move/", lambda route: route.abort())
    go(page, strip).tap()
    expect(wire(page)).to_contain_text("1 tap kept")
    sign_in(page.context, served, cast.finisher("Greta Lunt"), on=tablet[0])
    page.unroute("**/move/")
    page.goto(BENCH)
    expect(wire(page)).to_contain_text("1 tap kept here for Finn Tarrow, who has to sign in", timeout=SOON)
    assert not Move.objects.exists()
    sign_in(page.context, served, finn, on=tablet[0])
    page.goto(BENCH)
    expect(go(page, strip)).to_contain_text("Stripped: done", timeout=2 * SOON)
    assert Move.objects.get().by == finn


def test_with_nobody_signed_in_a_tap_stays_and_asks_for_someone(open_tablet, served, finn, strip):
    tablet = enrolled()
    page = open_tablet(finn, BENCH, tablet=tablet)
    page.wait_for_timeout(1500)
    page.context.clear_cookies(name="sessionid")
    go(page, strip).tap()
    expect(wire(page)).to_contain_text("Sign in to send 1 tap waiting on this tablet", timeout=SOON)
    page.goto("/sign-in/")
    expect(wire(page)).to_contain_text("Sign in to send 1 tap waiting on this tablet", timeout=SOON)
    assert not Move.objects.exists()
    sign_in(page.context, served, finn, on=tablet[0])
    page.goto(BENCH)
    expect(go(page, strip)).to_contain_text("Stripped: done", timeout=2 * SOON)
    assert Move.objects.count() == 1


def test_trouble_in_the_shops_computer_keeps_the_tap_and_says_so(open_tablet, finn, strip):
    page = open_tablet(finn, BENCH)
    page.route("**/move/", lambda route: route.fulfill(status=500, body="out of order"))
    go(page, strip).tap()
    expect(wire(page)).to_contain_text(
        "1 tap kept on this tablet: the shop’s computer has trouble", timeout=SOON
    )
    page.unroute("**/move/")
    expect(wire(page)).to_be_hidden(timeout=2 * SOON)
    assert stage_of(strip) == "stripped"


def test_a_computer_that_never_answers_is_asked_again(open_tablet, finn, strip):
    page = open_tablet(finn, BENCH)
    silent = []

    def first_hangs(route):
        if silent:
            return route.continue_()
        silent.append(route)
        return None

    page.route("**/move/", first_hangs)
    go(page, strip).tap()
    expect(wire(page)).to_contain_text("1 tap kept on this tablet, not received yet")
    expect(go(page, strip)).to_contain_text("Stripped: done", timeout=3 * SOON)
    assert Move.objects.count() == 1


def test_undo_is_one_tap(open_tablet, finn, strip):
    cast.send(strip, "stripped", by=finn)
    page = open_tablet(finn, BENCH)
    page.locator("#undo-last").tap()
    expect(go(page, strip)).to_contain_text("Take to the bench", timeout=SOON)
    assert stage_of(strip) == "rack"


def test_a_second_press_on_undo_undoes_nothing_older(open_tablet, finn, strip, maud):
    sand = cast.task(cast.operation("sand"), on=cast.instrument(by=maud, number="215"), by=maud)
    cast.walk(sand, by=finn, until="signed")
    cast.send(strip, "stripped", by=finn)
    page = open_tablet(finn, BENCH, size=UPRIGHT)
    undo = page.locator("#undo-last")
    expect(undo).to_contain_text("Strip: back to “on the rack”")
    box = undo.bounding_box()
    at = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.touchscreen.tap(*at)
    expect(undo).to_have_count(0, timeout=SOON)
    page.touchscreen.tap(*at)
    page.wait_for_timeout(1500)
    assert (stage_of(strip), stage_of(sand)) == ("rack", "signed")
    assert Move.objects.filter(undoes__isnull=False).count() == 1


def test_signed_work_is_undone_only_after_a_question(open_tablet, finn, strip):
    cast.walk(strip, by=finn, until="signed")
    page = open_tablet(finn, BENCH, size=UPRIGHT)
    page.locator("#undo-last").tap()
    expect(page.locator(".undo-asks")).to_contain_text("This work was signed on")
    assert stage_of(strip) == "signed"
    page.locator("#undo-sure").tap()
    expect(page.locator(".undo-asks")).to_have_count(0, timeout=SOON)
    assert stage_of(strip) == "proving"


def test_a_reason_touched_in_one_form_leaves_the_other_alone(open_tablet, finn, strip):
    cast.walk(strip, by=finn, until="built-up")
    page = open_tablet(finn, f"/tasks/{strip.pk}/", size=UPRIGHT)
    page.locator("#snag-form > summary").tap()
    page.locator("#back-form > summary").tap()
    page.locator("#back-form").get_by_text("found a fault in it").tap()
    expect(page.locator("#back-form").get_by_label("found a fault in it")).to_be_checked()
    assert page.locator("#snag-form input[name=phrase]:checked").count() == 0


def test_an_incomplete_snag_is_not_even_kept(open_tablet, finn, strip):
    page = open_tablet(finn, f"/tasks/{strip.pk}/", size=UPRIGHT)
    page.context.set_offline(True)
    page.locator("#snag-form summary").tap()
    page.get_by_text("a part is missing").first.tap()
    page.locator("#snag-go").tap()
    expect(page.locator("#snag-form [data-missing]")).to_contain_text("Nothing was kept yet")
    expect(wire(page)).not_to_contain_text("kept")
    page.fill("#snag_reason", "the left hinge")
    expect(page.locator("#snag-form [data-missing]")).to_have_count(0)
    page.locator("#snag-go").tap()
    expect(wire(page)).to_contain_text("1 tap kept")


def test_a_snag_and_hours_go_through_the_outbox_too(open_tablet, finn, strip, complaints):
    page = open_tablet(finn, f"/tasks/{strip.pk}/")
    page.locator("#snag-form summary").tap()
    page.get_by_text("a part is missing").first.tap()
    page.get_by_text("parts not back from outside").tap()
    page.locator("#snag-go").tap()
    expect(page.locator(".snag")).to_contain_text("parts not back from outside", timeout=SOON)
    page.locator("#hours-form summary").tap()
    page.locator("#hours-2").tap()
    expect(page.locator(".hours-list")).to_contain_text("0.50 h", timeout=SOON)
    assert (Snag.objects.get().owner, HoursSpent.objects.get().person) == (finn, finn)
    assert complaints == []


def test_what_is_refused_keeps_what_was_typed_and_says_why(open_tablet, finn, strip):
    page = open_tablet(finn, f"/tasks/{strip.pk}/")
    page.locator("#hours-form summary").tap()
    page.fill("#id_other_hours", "a lot")
    page.locator("#hours-other").tap()
    expect(page.locator("#not-taken")).to_contain_text(
        "got “a lot”; write a number from 0.05 to 24", timeout=SOON
    )
    expect(page.locator("#id_other_hours")).to_have_value("a lot")
    page.fill("#id_other_hours", "1,5")
    page.locator("#hours-other").tap()
    expect(page.locator(".hours-list")).to_contain_text("1.50 h", timeout=SOON)
    # What was corrected has taken the place of what was refused.
    expect(page.locator("#not-taken")).to_have_count(0)


def test_no_news_is_shown_under_an_open_form_and_it_comes_when_the_form_is_closed(open_tablet, finn, strip):
    page = open_tablet(finn, f"/tasks/{strip.pk}/")
    page.locator("#snag-form summary").tap()
    page.fill("#snag_reason", "the left hinge")
    cast.send(strip, "stripped", by=finn)
    expect(wire(page)).to_contain_text("There is news", timeout=SOON)
    assert page.input_value("#snag_reason") == "the left hinge"
    page.locator("#snag-form summary").tap()
    expect(go(page, strip)).to_contain_text("Stripped: done", timeout=SOON)
    expect(wire(page)).to_be_hidden()


def test_a_form_half_filled_outlives_its_person_s_sign_out(open_tablet, served, finn, strip):
    tablet = enrolled()
    page = open_tablet(finn, f"/tasks/{strip.pk}/", tablet=tablet)
    page.locator("#snag-form summary").tap()
    page.get_by_text("a part is missing").first.tap()
    page.fill("#snag_reason", "the left hinge")
    page.context.clear_cookies(name="sessionid")
    cast.send(strip, "stripped", by=finn)
    expect(wire(page)).to_contain_text("Nobody is signed in any more", timeout=40_000)
    page.locator("#snag-go").tap()
    expect(wire(page)).to_contain_text("Sign in to send 1 tap", timeout=SOON)
    sign_in(page.context, served, finn, on=tablet[0])
    page.goto(BENCH)
    expect(page.locator(".stop-words")).to_contain_text("the left hinge", timeout=2 * SOON)
    assert Snag.objects.get().raised_by == finn


def press(page: Page, words: str) -> None:
    """A button of a plain form: the answer is a whole page."""
    with page.expect_navigation():
        page.get_by_role("button", name=words).tap()


def test_the_waiting_count_and_a_refusal_stay_in_sight_down_a_long_list(open_tablet, finn, maud):
    op = cast.operation("strip")
    tasks = [cast.task(op, on=cast.instrument(by=maud), by=maud) for _ in range(9)]
    page = open_tablet(finn, BENCH)
    last = go(page, tasks[-1])
    page.route("**/move/", lambda route: route.abort())
    last.scroll_into_view_if_needed()
    last.tap()
    expect(wire(page)).to_contain_text("1 tap kept")
    expect(wire(page)).to_be_in_viewport()
    cast.send(tasks[-1], "stripped", by=maud)
    page.unroute("**/move/")
    expect(wire(page)).to_contain_text("1 tap not taken: see why", timeout=2 * SOON)
    expect(wire(page)).to_be_in_viewport()
    wire(page).get_by_text("not taken").tap()
    expect(page.locator("#not-taken")).to_contain_text("moved by Maud Ferrier")
    expect(page.locator("#not-taken")).to_be_in_viewport()


def test_without_scripts_a_task_is_walked_from_the_rack_to_signed(open_tablet, finn, strip):
    page = open_tablet(finn, BENCH, javascript=False)
    for words in ("Take to the bench", "Stripped: done", "Built up: done", "Rest is over", "Pass and sign"):
        press(page, words)
    assert stage_of(strip) == "signed"
    assert Move.objects.count() == 5
    assert page.get_by_text("Nothing to do at this bench").is_visible()


def test_without_scripts_a_stale_page_is_told_and_offered_the_real_next_step(open_tablet, finn, strip):
    page = open_tablet(finn, BENCH, javascript=False)
    cast.send(strip, "stripped", by=finn)
    press(page, "Take to the bench")
    assert "already at “stripped”" in page.locator("#refusal").inner_text()
    press(page, "Stripped: done")
    assert stage_of(strip) == "built-up"


MEASURES = """() => {
  const mm = 5.2, seen = (e) => e.offsetParent !== null && !e.closest(".hush, .skip");
  const box = (e) => e.getBoundingClientRect();
  const small = (list, least) => [...document.querySelectorAll(list)].filter(seen)
    .filter((e) => Math.min(box(e).width, box(e).height) < least * mm - 0.5)
    .map((e) => `${e.id || e.textContent.trim()} ${Math.round(box(e).width)}x${Math.round(box(e).height)}`);
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const fine = new Set();
  for (let node; (node = walk.nextNode()); ) {
    const at = node.parentElement;
    if (!node.textContent.trim() || !seen(at) || at.closest("svg, script")) continue;
    if (parseFloat(getComputedStyle(at).fontSize) < 21) fine.add(node.textContent.trim().slice(0, 40));
  }
  const deeds = [...document.querySelectorAll("main form .btn")].filter(seen).map(box);
  const close = deeds.flatMap((a, i) => deeds.slice(i + 1).filter((b) =>
    Math.max(b.left - a.right, a.left - b.right, b.top - a.bottom, a.top - b.bottom) < 2 * mm - 0.5));
  return { deeds: small("main form .btn, main .choices label", 20),
    others: small("main a, main summary", 15), fine: [...fine], close: close.length,
    number: parseFloat(getComputedStyle(document.querySelector(".piano-number")).fontSize),
    wide: document.documentElement.scrollWidth - innerWidth };
}"""


@pytest.mark.parametrize("size", [PORTRAIT, LANDSCAPE, (1280, 800), (390, 844)])
def test_targets_are_cut_for_gloves_and_words_for_arm_s_length(open_tablet, finn, maud, strip, size):
    sand = cast.task(cast.operation("sand"), on=strip.instrument, by=maud, needs=[strip])
    cast.walk(strip, by=finn, until="built-up")
    for path in (BENCH, f"/tasks/{strip.pk}/", f"/tasks/{sand.pk}/"):
        page = open_tablet(finn, path, size=size)
        page.evaluate("() => document.querySelectorAll('details').forEach((part) => { part.open = true; })")
        found = page.evaluate(MEASURES)
        assert found["deeds"] == [], path
        assert found["others"] == [], path
        assert found["fine"] == [], path
        assert found["close"] == 0, path
        assert found["number"] >= 28
        assert found["wide"] <= 0, path
