"""Taps as they arrive: from a plain form, from htmx, from the outbox; once, honest, as their person."""

from __future__ import annotations

import json
import re
import uuid
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import RequestFactory

from shopflow.common import clock
from shopflow.people import tablets
from shopflow.people.whose_tap import mark_for
from shopflow.workshop.models import HoursSpent, Move, Snag, Tap
from tests import cast

pytestmark = pytest.mark.django_db

PLAIN: dict[str, str] = {}
HTMX = {"HX-Request": "true", "HX-Target": "work"}
OUTBOX = {"Accept": "application/json"}
WAYS = pytest.mark.parametrize("way", [PLAIN, HTMX, OUTBOX], ids=["plain", "htmx", "outbox"])


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud):
    return cast.finisher()


@pytest.fixture
def strip(maud):
    return cast.task(cast.operation("strip"), on=cast.instrument(by=maud, number="214"), by=maud)


@pytest.fixture
def as_finn(client, finn):
    client.force_login(finn)
    return client


def fresh() -> str:
    return uuid.uuid4().hex


def tap(browser, task, deed="move", way=PLAIN, *, pk=None, **fields):
    """Send one tap; a move goes from where the task stands to the stage given by its code."""
    fields.setdefault("key", fresh())
    if deed == "move":
        task.refresh_from_db()
        fields.setdefault("seen", task.stage_id)
        fields["to"] = cast.stage(task, fields.get("to", "stripped")).pk
    return browser.post(f"/tasks/{pk or task.pk}/{deed}/", fields, headers=way)


def stage_of(task) -> str:
    task.refresh_from_db()
    return task.stage.code


# --- done, in each of the three ways ---


@WAYS
def test_a_stage_is_marked(as_finn, strip, way):
    answer = tap(as_finn, strip, way=way, **{"from": "bench"})
    assert stage_of(strip) == "stripped"
    words = "214: “on the rack” → “stripped”."
    if way is PLAIN:
        assert answer.status_code == 303
        assert answer["Location"] == "/bench/refinishing/"
        assert words in as_finn.get(answer["Location"]).content.decode().replace("&quot;", '"')
    elif way is HTMX:
        assert 'id="work"' in answer.content.decode()
        assert "→" in answer["HX-Trigger"] or "\\u2192" in answer["HX-Trigger"]
    else:
        assert answer.json() == {"words": words, "notes": [], "task": strip.pk}


@WAYS
def test_a_move_is_undone(as_finn, strip, way):
    tap(as_finn, strip)
    answer = tap(as_finn, strip, "undo", way, move=Move.objects.get().pk)
    assert answer.status_code in {200, 303}
    assert stage_of(strip) == "rack"


@WAYS
def test_a_snag_is_put_and_cleared(as_finn, strip, finn, way):
    tomorrow = clock.today() + timedelta(days=1)
    fields = {"cause": "customer", "phrase": "colour not chosen yet", "owner": finn.pk, "ask_again": tomorrow}
    assert tap(as_finn, strip, "snag", way, **fields).status_code in {200, 303}
    snag = Snag.objects.get()
    assert (snag.reason, snag.owner, snag.ask_again_on) == ("colour not chosen yet", finn, tomorrow)
    assert tap(as_finn, strip, f"snag/{snag.pk}/clear", way).status_code in {200, 303}
    snag.refresh_from_db()
    assert snag.cleared_by == finn


@WAYS
def test_the_day_to_ask_again_is_put_off(as_finn, strip, finn, way):
    fields = {"cause": "part", "reason": "hinge", "ask_again": clock.today() + timedelta(days=1)}
    tap(as_finn, strip, "snag", **fields)
    later = clock.today() + timedelta(days=7)
    snag = Snag.objects.get()
    assert tap(as_finn, strip, f"snag/{snag.pk}/ask-again", way, ask_again=later).status_code in {200, 303}
    snag.refresh_from_db()
    assert snag.ask_again_on == later


@WAYS
@pytest.mark.parametrize(("typed", "kept"), [("0.25", "0.25"), ("1,5", "1.5"), ("4", "4")])
def test_hours_are_entered_and_taken_back(as_finn, strip, way, typed, kept):
    assert tap(as_finn, strip, "hours", way, hours=typed).status_code in {200, 303}
    entry = HoursSpent.objects.get()
    assert (entry.hours, entry.worked_on) == (Decimal(kept), clock.today())
    assert tap(as_finn, strip, "hours/take-back", way, entry=entry.pk).status_code in {200, 303}
    assert not HoursSpent.objects.exists()


@WAYS
def test_going_back_keeps_its_reason(as_finn, strip, finn, way):
    cast.walk(strip, by=finn, until="built-up")
    tap(as_finn, strip, way=way, to="stripped", phrase="found a fault in it", reason="flutes")
    assert Move.objects.last().reason == "found a fault in it: flutes"
    assert stage_of(strip) == "stripped"


# --- once ---


@pytest.mark.parametrize("deed", ["move", "hours", "snag"])
def test_the_same_tap_three_times_is_one_deed_and_three_equal_answers(as_finn, strip, deed):
    fields = {"key": fresh(), "seen": strip.stage_id}
    fields |= {"hours": "2"} if deed == "hours" else {}
    fields |= {"cause": "part", "reason": "hinge", "ask_again": clock.today()} if deed == "snag" else {}
    answers = [tap(as_finn, strip, deed, OUTBOX, **fields) for _ in range(3)]
    assert [answer.status_code for answer in answers] == [200, 200, 200]
    assert answers[0].json() == answers[1].json() == answers[2].json()
    assert (Move.objects.count(), HoursSpent.objects.count(), Snag.objects.count()) == {
        "move": (1, 0, 0),
        "hours": (0, 1, 0),
        "snag": (0, 0, 1),
    }[deed]


def test_hours_taken_back_twice_by_one_tap_hear_the_same_answer(as_finn, strip):
    tap(as_finn, strip, "hours", hours="2")
    fields = {"key": fresh(), "entry": HoursSpent.objects.get().pk}
    answers = [tap(as_finn, strip, "hours/take-back", OUTBOX, **fields) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]


@WAYS
def test_the_same_key_with_another_body_is_refused(as_finn, strip, way):
    key = fresh()
    tap(as_finn, strip, key=key)
    answer = tap(as_finn, strip, way=way, key=key, to="built-up")
    assert answer.status_code == 422
    assert "already used for something else" in answer.content.decode()
    assert stage_of(strip) == "stripped"


@WAYS
@pytest.mark.parametrize("key", ["", "k" * 10_000, "it's-a-key", "line\nbreak-key", "short"])
def test_an_odd_key_is_refused_before_anything_is_done(as_finn, strip, way, key):
    answer = tap(as_finn, strip, way=way, key=key)
    assert answer.status_code == 400
    assert "A tap" in answer.content.decode()
    assert not Move.objects.exists()
    assert not Tap.objects.exists()


# --- refused, in plain words ---


@WAYS
def test_a_stale_page_hears_who_when_and_whereto_and_is_offered_the_real_next_step(client, finn, strip, way):
    cast.send(strip, "stripped", by=finn)
    greta = cast.finisher("Greta Lunt")
    client.force_login(greta)
    answer = tap(client, strip, way=way, seen=cast.stage(strip, "rack").pk)
    said = answer.content.decode() if way is not OUTBOX else answer.json()["words"]
    assert answer.status_code == 409
    assert "already at “stripped”" in said
    assert "moved by Finn Tarrow" in said
    assert "Nothing was changed" in said
    assert way is OUTBOX or "Stripped: done" in said
    assert Move.objects.count() == 1


@WAYS
def test_a_skipped_stage_is_named(as_finn, strip, way):
    answer = tap(as_finn, strip, way=way, to="hardening")
    said = answer.content.decode() if way is not OUTBOX else answer.json()["words"]
    assert answer.status_code == 422
    assert "“stripped” comes before “hardening”" in said


def test_a_stage_that_does_not_exist_is_answered_with_the_ones_that_do(as_finn, strip):
    answer = as_finn.post(
        f"/tasks/{strip.pk}/move/", {"key": fresh(), "seen": strip.stage_id, "to": 10**9}, headers=OUTBOX
    )
    assert answer.status_code == 422
    assert "“built up”" in answer.json()["words"]


@pytest.mark.parametrize("odd", ["", "x", "-1", "1" * 5000, "9" * 19, "1.5", "١"])
def test_a_stage_that_cannot_be_read_is_refused(as_finn, strip, odd):
    fields = {"key": fresh(), "seen": strip.stage_id, "to": odd}
    answer = as_finn.post(f"/tasks/{strip.pk}/move/", fields, headers=OUTBOX)
    assert answer.status_code in {400, 422}
    assert not Move.objects.exists()


@pytest.mark.parametrize(
    "hours", ["-3", "1e400", "NaN", "Infinity", "-0", "٣", "３", "", "  ", "0", "25", "9" * 5000, "1;2"]
)
@WAYS
def test_hours_outside_reason_are_refused_with_the_range(as_finn, strip, hours, way):
    answer = tap(as_finn, strip, "hours", way, hours=hours)
    assert answer.status_code == 422
    said = answer.json()["words"] if way is OUTBOX else answer.content.decode()
    assert "0.05 to 24" in said or "required" in said
    assert not HoursSpent.objects.exists()


@pytest.mark.parametrize("nothing", ["", "   ", "\u200b\u200d", "\u202e", "\x00", "\ufeff\u2060"])
def test_a_snag_without_words_is_refused_and_keeps_what_was_chosen(as_finn, strip, nothing):
    answer = tap(as_finn, strip, "snag", cause="part", reason=nothing, ask_again=clock.today())
    said = answer.content.decode()
    assert answer.status_code == 422
    assert "Choose one of the phrases or write something." in said
    assert answer.context["forms"]["snag"]["cause"].value() == "part"
    assert re.search(r'<input[^>]*value="part"[^>]*checked', said)
    assert not Snag.objects.exists()


def test_a_reason_too_long_is_refused_and_still_in_its_field(as_finn, strip):
    long = "x" * 1_000_000
    fields = {"cause": "part", "reason": long, "ask_again": clock.today()}
    answer = tap(as_finn, strip, "snag", **fields)
    assert answer.status_code == 422
    assert "at most 300 characters" in answer.content.decode()
    assert "x" * 1000 in answer.content.decode()


def test_words_that_hide_or_turn_letters_are_cleaned(as_finn, strip):
    words = "hinge\u202e lost \u200b<b>" + "e" + "\u0301" * 200
    fields = {"cause": "part", "reason": words, "ask_again": clock.today()}
    assert tap(as_finn, strip, "snag", OUTBOX, **fields).status_code == 200
    reason = Snag.objects.get().reason
    assert reason.startswith("hinge lost <b>é")
    assert len(reason) <= len("hinge lost <b>é") + 3


@pytest.mark.parametrize("day", ["2027-02-30", "0001-01-01", "9999-01-01", "yesterday"])
def test_a_day_outside_reason_is_refused(as_finn, strip, day):
    fields = {"cause": "part", "reason": "hinge", "ask_again": "", "ask_again_on": day}
    answer = tap(as_finn, strip, "snag", OUTBOX, **fields)
    assert answer.status_code == 422
    assert answer.json()["words"]
    assert not Snag.objects.exists()


# --- clocks ---


@pytest.mark.parametrize(
    ("off", "told"), [(timedelta(days=365), "1 year ahead"), (timedelta(days=-20_000), "55 years behind")]
)
def test_a_tablet_whose_clock_is_off_is_told_so_and_the_server_s_time_ranks(as_finn, strip, off, told):
    theirs = (clock.now() + off).isoformat()
    answer = tap(as_finn, strip, way=OUTBOX, tapped_at=theirs, sent_at=theirs)
    move = Move.objects.get()
    assert answer.status_code == 200
    assert told in " ".join(answer.json()["notes"])
    assert "late" not in " ".join(answer.json()["notes"])
    assert abs(move.recorded_at - clock.now()) < timedelta(minutes=1)


@pytest.mark.parametrize(
    ("clock_off", "kept_for", "day"),
    [
        (timedelta(0), timedelta(days=2), timedelta(days=2)),
        (timedelta(days=365), timedelta(days=2), timedelta(days=2)),
        # The battery was empty: the tablet took the year 1970 for granted until it heard the time again.
        (timedelta(0), timedelta(days=20_000), timedelta(0)),
        (timedelta(0), -timedelta(days=3), timedelta(0)),
    ],
)
def test_hours_kept_on_a_tablet_are_of_the_day_on_which_they_were_tapped(
    as_finn, strip, clock_off, kept_for, day
):
    sent = clock.now() + clock_off
    times = {"tapped_at": (sent - kept_for).isoformat(), "sent_at": sent.isoformat()}
    fields = {"key": "hours-of-the-day", "hours": "1.5"}
    assert tap(as_finn, strip, "hours", OUTBOX, **fields, **times).status_code == 200
    assert HoursSpent.objects.get().worked_on == clock.today() - day
    again = {"tapped_at": (sent - kept_for).isoformat(), "sent_at": (sent + timedelta(days=1)).isoformat()}
    assert tap(as_finn, strip, "hours", OUTBOX, **fields, **again).status_code == 200


def test_a_tap_kept_for_nine_days_is_taken_and_marked_late(as_finn, strip):
    then, now = clock.now() - timedelta(days=9), clock.now()
    answer = tap(as_finn, strip, way=OUTBOX, tapped_at=then.isoformat(), sent_at=now.isoformat())
    assert answer.json()["notes"] == ["It was kept on this tablet for 9 days and is marked late."]
    assert "late:" in as_finn.get(f"/tasks/{strip.pk}/").content.decode()


@pytest.mark.parametrize(
    "odd", ["soon", "2026-13-45T00:00:00Z", "2026-01-01T00:00:00", "0001-01-01T00:00:00+14:00"]
)
def test_a_time_that_cannot_be_read_is_refused(as_finn, strip, odd):
    assert tap(as_finn, strip, way=OUTBOX, tapped_at=odd).status_code == 400
    assert not Move.objects.exists()


# --- whose tap ---


@pytest.mark.parametrize("way", [PLAIN, OUTBOX], ids=["plain", "outbox"])
def test_nobody_signed_in_changes_nothing(client, strip, way, settings):
    settings.LOGIN_URL = "/sign-in/"
    answer = tap(client, strip, way=way)
    assert answer.status_code == (401 if way is OUTBOX else 302)
    assert not Move.objects.exists()


@WAYS
def test_a_stranger_and_a_hand_of_another_bench_change_nothing(client, strip, way):
    for person in (cast.stranger(), cast.finisher("Pia Orme", home=cast.department("plating"))):
        client.force_login(person)
        for deed, fields in [
            ("move", {}),
            ("hours", {"hours": "1"}),
            ("snag", {"cause": "part", "reason": "hinge", "ask_again": clock.today()}),
        ]:
            assert tap(client, strip, deed, way, **fields).status_code == 403
    assert [kind.objects.count() for kind in (Move, HoursSpent, Snag)] == [0, 0, 0]


@WAYS
def test_a_task_or_a_line_of_another_task_is_the_same_404(as_finn, strip, finn, maud, way):
    other = cast.task(cast.operation("sand"), on=cast.instrument(by=maud), by=maud)
    cast.send(other, "stripped", by=finn)
    assert tap(as_finn, strip, way=way, pk=999_999).status_code == 404
    assert tap(as_finn, strip, "undo", way, move=Move.objects.get().pk).status_code == 404
    assert stage_of(other) == "stripped"


def test_hidden_fields_cannot_book_a_tap_to_someone_else(as_finn, strip):
    greta = cast.finisher("Greta Lunt")
    tap(as_finn, strip, by=greta.pk, person=greta.pk, tablet=1)
    assert Move.objects.get().by.name == "Finn Tarrow"


def shared_tablet(client, name="Refinishing tablet"):
    """Make this client the browser of an enrolled tablet."""
    tablet = cast.tablet(name)
    tablet.token_hash = tablets.fingerprint(f"secret of {name}")
    tablet.save()
    client.cookies[tablets.COOKIE] = f"secret of {name}"
    return tablet


def mark_of(person, tablet) -> str:
    request = RequestFactory().get("/")
    request.user, request.tablet = person, tablet
    return mark_for(request)


def leave(client, person, tablet, *entries, password: bool = False):
    """This person signs out at the tablet while these entries still wait in its drawer."""
    if password:
        client.force_login(person)
    else:
        cast.by_pin(client, person, tablet)
    said = [{"url": url, "fields": list(fields.items())} for url, fields in entries]
    return client.post("/sign-out/", {"waiting": json.dumps(said)})


def entry(task, to="stripped", **fields):
    """A move as it waits in the drawer: where it goes, and its fields as texts."""
    given = {"key": fresh(), "seen": str(task.stage_id), "to": str(cast.stage(task, to).pk), **fields}
    return f"/tasks/{task.pk}/move/", given


def send_as(client, person, tablet, sent, **other):
    url, fields = sent
    return client.post(url, fields | {"as": mark_of(person, tablet), **other}, headers=OUTBOX)


def test_what_waited_when_its_person_left_is_sent_by_the_next_one_and_counts_once(client, finn, strip):
    tablet = shared_tablet(client)
    waited = entry(strip, note="two\nlines")
    leave(client, finn, tablet, waited)
    cast.by_pin(client, cast.finisher("Greta Lunt"), tablet)
    waited[1]["note"] = "two\r\nlines"
    answers = [send_as(client, finn, tablet, waited) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]
    move = Move.objects.get()
    assert (move.by, move.tablet) == (finn, tablet)


def test_nothing_new_is_signed_as_somebody_who_has_left(client, finn, strip, maud):
    tablet = shared_tablet(client)
    url, fields = waited = entry(strip)
    leave(client, finn, tablet, waited)
    cast.by_pin(client, cast.finisher("Greta Lunt"), tablet)
    other = cast.task(strip.operation, on=cast.instrument(by=maud), by=maud)
    for sent in (entry(strip), (url, fields | {"reason": "another word"}), entry(other)):
        answer = send_as(client, finn, tablet, sent)
        assert answer.status_code == 423
        assert "until the person who tapped it signs in" in answer.json()["words"]
    assert not Move.objects.exists()


@pytest.mark.parametrize("change", ["password", "pin", "month"])
def test_a_new_password_a_new_pin_and_a_month_end_it(client, finn, strip, change):
    tablet = shared_tablet(client)
    waited = entry(strip)
    with clock.at(clock.now() - timedelta(days=31 if change == "month" else 1)):
        leave(client, finn, tablet, waited)
    finn.refresh_from_db()
    if change == "password":
        finn.set_password("another long one")
    elif change == "pin":
        finn.pin_hash = "another"
    finn.save()
    cast.by_pin(client, cast.finisher("Greta Lunt"), tablet)
    assert send_as(client, finn, tablet, waited).status_code == 423
    assert not Move.objects.exists()


def test_what_a_manager_left_waits_for_her_password(client, finn, strip, maud):
    tablet = shared_tablet(client)
    waited = entry(strip, to="signed", override="1", reason="because")
    leave(client, maud, tablet, waited, password=True)
    cast.by_pin(client, finn, tablet)
    assert send_as(client, maud, tablet, waited).status_code == 423
    # By a PIN she leaves what a hand may do, and an override is not that.
    leave(client, maud, tablet, waited)
    cast.by_pin(client, finn, tablet)
    assert send_as(client, maud, tablet, waited).status_code in {403, 422}
    assert not Move.objects.exists()
    client.force_login(maud)
    assert send_as(client, maud, tablet, waited).status_code == 200


def test_on_another_tablet_nothing_that_was_left_here_counts(client, finn, strip):
    here = shared_tablet(client)
    waited = entry(strip)
    leave(client, finn, here, waited)
    there = shared_tablet(client, "Plating tablet")
    cast.by_pin(client, cast.finisher("Greta Lunt"), there)
    assert send_as(client, finn, here, waited).status_code == 423
    for mark in ("made:up:mark", mark_of(finn, here)[:-1] + "x"):
        assert client.post(waited[0], waited[1] | {"as": mark}, headers=OUTBOX).status_code == 403
    assert not Move.objects.exists()


@pytest.mark.parametrize("said", ["", "[", "{}", "7", '[{"url": 1}]', '[{"url": "/", "fields": 3}]', "null"])
def test_what_cannot_be_read_of_the_drawer_holds_up_no_sign_out(client, finn, said):
    tablet = shared_tablet(client)
    cast.by_pin(client, finn, tablet)
    assert client.post("/sign-out/", {"waiting": said}).status_code == 302


def test_someone_who_has_left_the_shop_leaves_no_taps_behind(client, finn, strip):
    tablet = shared_tablet(client)
    waited = entry(strip)
    leave(client, finn, tablet, waited)
    finn.refresh_from_db()
    finn.is_active = False
    finn.save()
    cast.by_pin(client, cast.finisher("Greta Lunt"), tablet)
    assert send_as(client, finn, tablet, waited).status_code == 403
    assert not Move.objects.exists()


def test_a_signature_is_taken_back_only_after_a_yes(as_finn, strip, finn):
    cast.walk(strip, by=finn, until="signed")
    signing = Move.objects.order_by("-pk").first()
    answer = tap(as_finn, strip, "undo", OUTBOX, move=signing.pk)
    assert answer.status_code == 422
    assert "signed" in answer.json()["words"]
    assert stage_of(strip) == "signed"
    assert tap(as_finn, strip, "undo", OUTBOX, move=signing.pk, sure="1").status_code == 200
    assert stage_of(strip) == "proving"


def test_a_get_changes_nothing(as_finn, strip):
    for deed in ("move", "undo", "snag", "hours"):
        assert as_finn.get(f"/tasks/{strip.pk}/{deed}/").status_code == 405
