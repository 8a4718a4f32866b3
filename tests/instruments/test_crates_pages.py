"""Crates as pages: found by number, in words, tapped once; never another instrument's, never an owner."""

from __future__ import annotations

import re
import uuid
from json import dumps

import pytest
from django.urls import reverse

from shopflow.instruments.models import Crate, CrateMove
from shopflow.instruments.selectors.crates import number_in
from shopflow.people import tablets
from shopflow.people.whose_tap import mark_for
from tests import cast

pytestmark = pytest.mark.django_db

OUTBOX = {"Accept": "application/json"}
OWNER = "Perdita Vane-Quist"


@pytest.fixture
def maud():
    cast.shop()
    return cast.manager()


@pytest.fixture
def finn(maud):
    return cast.finisher()


@pytest.fixture
def piano(maud):
    return cast.instrument(by=maud, number="214", customer=cast.customer(OWNER), fragile="cracked desk")


@pytest.fixture
def box(piano, finn):
    return cast.crate(piano, by=finn, number=31, holds="4 × lid hinges, 12 × hinge screws")


@pytest.fixture
def as_finn(client, finn):
    client.force_login(finn)
    return client


def fields(crate, **counts):
    """What a counting form sends."""
    counted = crate.moves.filter(kind__in=["out", "in", "counted", "right", "emptied"]).last()
    numbers = {f"line-{crate.lines.get(name=name.replace('_', ' ')).pk}": n for name, n in counts.items()}
    return {"key": uuid.uuid4().hex, "seen": counted.pk if counted else 0, **numbers}


def tap(browser, crate, deed, *, way=None, **sent):
    return browser.post(f"/crates/{crate.number}/{deed}/", sent, headers=way or {})


def words_on(answer):
    """The page's words as a person reads them."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


@pytest.mark.parametrize(
    "typed",
    [
        "31",
        " 31 ",
        "0031",
        "/crates/31/",
        "http://shop.example:8000/crates/31/",
        "crate 31",
        "HTTP://X/CRATES/31",
    ],
)
def test_a_number_typed_or_scanned_opens_the_crate(as_finn, box, typed):
    answer = as_finn.get("/crates/", {"number": typed})
    assert (answer.status_code, answer.headers["Location"]) == (302, "/crates/31/")


@pytest.mark.parametrize(
    "typed", ["", "x", "-3", "1e400", "NaN", "1,5", "٣١", "0", "99999", "9" * 5000, "<b>31"]
)
def test_what_is_no_crate_is_said_and_stays_in_the_field(as_finn, box, typed):
    answer = as_finn.get("/crates/", {"number": typed})
    assert answer.status_code == 422
    assert "<b>31" not in answer.content.decode()
    assert number_in(typed) in (None, 99999)


def test_the_page_of_a_crate_shows_its_number_large_its_parts_and_no_owner(as_finn, box):
    page = as_finn.get("/crates/31/")
    shown = words_on(page)
    assert "Hardware 1 of 1" in shown
    assert "214 Bexcombe upright, 1904" in shown
    assert "Fragile: cracked desk" in shown
    assert "all 4 here" in shown
    assert OWNER not in page.content.decode()


def test_counting_out_and_in_with_two_names_leaves_the_missing_part_in_words(as_finn, box, maud):
    sent = fields(box, lid_hinges=4, hinge_screws=12) | {"to": "Tidewater Plating", "second": maud.pk}
    assert tap(as_finn, box, "out", **sent).headers["Location"] == "/crates/31/"
    shown = words_on(as_finn.get("/crates/31/"))
    assert "4 counted out of 4" in shown
    assert "counted out to Tidewater Plating, Finn Tarrow and Maud Ferrier" in shown
    back = fields(box, lid_hinges=3, hinge_screws=12) | {"second_outside": "the plater’s driver"}
    tap(as_finn, box, "in", **back)
    shown = words_on(as_finn.get("/crates/31/"))
    assert "Missing: 1 of 4 × lid hinges" in shown
    assert "Put a snag on the work it stops" in shown


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"second": ""}, "Two names are needed"),
        ({"to": ""}, "This field is required"),
        ({"seen": "x"}, "allowed is 0"),
        ({"second_outside": "someone too"}, "not both"),
    ],
)
def test_a_count_that_is_not_in_order_keeps_what_was_typed(as_finn, box, maud, change, words):
    sent = fields(box, lid_hinges=4) | {"to": "Tidewater Plating", "second": maud.pk} | change
    answer = tap(as_finn, box, "out", **sent)
    assert answer.status_code == 422
    assert words in words_on(answer)
    assert "Tidewater Plating" in answer.content.decode() or change == {"to": ""}
    assert box.lines.get(name="lid hinges").away == 0


@pytest.mark.parametrize("odd", ["-3", "1e400", "NaN", "1,5", "5", "9" * 400])
def test_odd_counts_are_refused_with_the_range(as_finn, box, maud, odd):
    sent = fields(box, lid_hinges=odd) | {"to": "Tidewater Plating", "second": maud.pk}
    answer = tap(as_finn, box, "out", **sent)
    assert answer.status_code == 422
    assert "allowed is 0 to" in words_on(answer)
    assert not CrateMove.objects.filter(kind="out").exists()


def test_numbers_in_other_digits_are_understood(as_finn, box, maud):
    tap(as_finn, box, "out", **fields(box, lid_hinges="٣"), to="Tidewater Plating", second=maud.pk)
    assert box.lines.get(name="lid hinges").away == 3


def test_a_part_of_another_instrument_is_not_found_here(as_finn, box, maud, finn):
    theirs = cast.crate(cast.instrument(by=maud, number="215"), by=finn, holds="2 × odd pegs")
    strange = f"line-{theirs.lines.get().pk}"
    common = {"second": maud.pk, "to": "Tidewater Plating", "reason": "x", "count": 1}
    for deed in ("out", "in", "count"):
        answer = tap(as_finn, box, deed, **fields(box, lid_hinges=1), **common, **{strange: 1})
        assert answer.status_code == 404, deed
    assert tap(as_finn, box, f"right/{theirs.lines.get().pk}", **fields(box), **common).status_code == 404
    assert as_finn.get("/instruments/214/tags/", {"crate": theirs.number}).status_code == 404
    url = reverse("workshop:missing-part", args=["214", theirs.lines.get().pk])
    assert as_finn.get(url).status_code == 404
    assert "odd pegs" not in as_finn.get("/instruments/214/crates/").content.decode()
    assert CrateMove.objects.exclude(kind="packed").count() == 0


def test_the_same_tap_sent_three_times_counts_once_and_hears_the_same(as_finn, box, maud):
    sent = fields(box, lid_hinges=4) | {"to": "Tidewater Plating", "second": maud.pk}
    said = [tap(as_finn, box, "out", way=OUTBOX, **sent).json()["words"] for _ in range(3)]
    assert len(set(said)) == 1
    assert said[0].startswith("Crate 31: 4 parts counted out")
    assert CrateMove.objects.filter(kind="out").count() == 1
    other = tap(as_finn, box, "out", way=OUTBOX, **(sent | {"to": "Elsewhere"}))
    assert (other.status_code, "already used" in other.json()["words"]) == (422, True)


def test_a_count_from_an_old_page_is_answered_409_with_who_was_first(as_finn, box, maud):
    old = fields(box, hinge_screws=12) | {"to": "Tidewater Plating", "second": maud.pk}
    tap(as_finn, box, "out", **fields(box, lid_hinges=4), to="Tidewater Plating", second=maud.pk)
    answer = tap(as_finn, box, "out", **old)
    assert answer.status_code == 409
    assert "was counted out by Finn Tarrow" in words_on(answer)


@pytest.mark.parametrize("key", ["", "short", "k" * 10_000, "quo'te\"key", "new\nline-key"])
def test_a_key_that_is_none_is_not_understood(as_finn, box, key):
    assert tap(as_finn, box, "open", key=key).status_code == 400
    assert box.moves.count() == 1


def test_a_tap_kept_on_a_tablet_counts_as_the_one_who_tapped(client, rf, box, finn, maud):
    at = cast.tablet()
    cast.on_tablet(client, at)
    request = rf.get("/")
    request.user, request.tablet = finn, at
    mark = mark_for(request)
    key = uuid.uuid4().hex
    cast.by_pin(client, finn, at)
    waited = [{"url": f"/crates/{box.number}/open/", "fields": [["key", key]]}]
    client.post("/sign-out/", {"waiting": dumps(waited)})
    cast.by_pin(client, cast.person("Greta Lunt"), at)
    assert tap(client, box, "open", way=OUTBOX, key=uuid.uuid4().hex, **{"as": mark}).status_code == 423
    assert tap(client, box, "open", way=OUTBOX, key=key, **{"as": mark}).status_code == 200
    move = box.moves.last()
    assert (move.kind, move.by, move.tablet) == ("opened", finn, at)
    assert tablets.COOKIE in client.cookies


def test_with_nobody_signed_in_a_tap_stays_on_its_tablet(client, box):
    assert tap(client, box, "open", way=OUTBOX, key=uuid.uuid4().hex).status_code == 401
    assert "/sign-in/" in tap(client, box, "open", key=uuid.uuid4().hex).headers["Location"]


def test_a_crate_is_made_with_its_parts_one_a_line(as_finn, piano, finn):
    plating = cast.department("plating")
    sent = {
        "key": uuid.uuid4().hex,
        "set_name": "Hardware",
        "parts": "2 lid hinges\n\n12 x hinge screws\nlock and key",
        "place": "shelf 3",
        "department": plating.pk,
        "number": "",
    }
    for _ in range(2):
        assert (
            as_finn.post("/instruments/214/crates/", sent).headers["Location"] == "/instruments/214/crates/"
        )
    crate = Crate.objects.get()
    assert (crate.place, crate.department) == ("shelf 3", plating)
    assert [str(line) for line in crate.lines.all()] == [
        "2 × lid hinges",
        "12 × hinge screws",
        "1 × lock and key",
    ]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"set_name": " \u200b"}, "required"),
        ({"parts": "0 hinges"}, "allowed is 1 to 999"),
        ({"parts": "1000 hinges"}, "allowed is 1 to 999"),
        ({"parts": "x" * 90}, "allowed are 60"),
        ({"parts": "\n".join(["lock"] * 41)}, "allowed are 40"),
        ({"number": "1e400"}, "allowed is 1 to 99999"),
        ({"number": "31"}, "Crate 31 is there already. The next free number is 32"),
    ],
)
def test_a_crate_that_cannot_be_made_says_why(as_finn, box, change, words):
    sent = {"key": uuid.uuid4().hex, "set_name": "keys", "parts": "88 keys", "place": "rack <b>7"} | change
    answer = as_finn.post("/instruments/214/crates/", sent)
    assert answer.status_code == 422
    assert words in words_on(answer)
    assert "rack &lt;b&gt;7" in answer.content.decode()
    assert Crate.objects.count() == 1


def test_the_list_says_what_is_missing_and_where_the_rest_is(as_finn, box, maud):
    tap(as_finn, box, "out", **fields(box, lid_hinges=4), to="Tidewater Plating", second=maud.pk)
    shown = words_on(as_finn.get("/instruments/214/crates/"))
    assert "4 of 4 × lid hinges , crate 31 , at Tidewater Plating since" in shown
    tap(as_finn, box, "in", **fields(box, lid_hinges=4), second=maud.pk)
    assert "Nothing of 214 is missing or out of the house." in words_on(
        as_finn.get("/instruments/214/crates/")
    )


def test_the_number_of_queries_stays_the_same_for_many_crates(
    as_finn, piano, finn, maud, django_assert_max_num_queries
):
    for n in range(12):
        crate = cast.crate(piano, by=finn, holds="2 × lid hinges, 5 × screws", set_name=f"set {n % 3}")
        tap(as_finn, crate, "out", **fields(crate, lid_hinges=2), to="Tidewater Plating", second=maud.pk)
    for url, most in (("/instruments/214/crates/", 20), (f"/crates/{crate.number}/", 20), ("/crates/", 10)):
        with django_assert_max_num_queries(most):
            assert as_finn.get(url).status_code == 200


class TestTags:
    def test_a_tag_carries_a_code_a_large_number_its_set_and_contents_but_no_owner(
        self, as_finn, box, piano, finn
    ):
        cast.crate(piano, by=finn, number=32)
        page = as_finn.get("/instruments/214/tags/", headers={"Host": "shop.example"})
        shown = words_on(page)
        assert "crate 31 of 214" in shown
        assert "Hardware, 1 of 2 4 × lid hinges 12 × hinge screws" in shown
        assert page.content.decode().count('class="qr"') == 3
        assert OWNER not in page.content.decode()
        assert "style=" not in page.content.decode()

    def test_only_the_chosen_ones_are_printed(self, as_finn, box, piano, finn):
        cast.crate(piano, by=finn, number=32)
        page = as_finn.get("/instruments/214/tags/", {"crate": 32}).content.decode()
        assert (page.count('class="qr"'), "QR code of crate 32" in page) == (1, True)
        metal = as_finn.get("/instruments/214/tags/", {"crate": 32, "layout": "metal"}).content.decode()
        assert ('class="qr"' in metal, '<span class="tag-number">32</span>' in metal) == (False, True)

    @pytest.mark.parametrize(
        "asked", [{"crate": "x"}, {"crate": "-1"}, {"layout": "gold"}, {"crate": "9" * 400}]
    )
    def test_what_cannot_be_printed_is_not_found(self, as_finn, box, asked):
        assert as_finn.get("/instruments/214/tags/", asked).status_code == 404


def test_a_stranger_finds_nothing(client, box):
    client.force_login(cast.stranger())
    for url in ("/crates/", "/crates/31/", "/instruments/214/crates/", "/instruments/214/tags/"):
        assert client.get(url).status_code == 403
    assert tap(client, box, "open", key=uuid.uuid4().hex).status_code == 403
    assert box.moves.count() == 1
