"""The office's pages of offers: draft, price, look, send, settle."""

from __future__ import annotations

import html
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core import mail
from django.test import Client

from shopflow.common import clock
from shopflow.common.mail import NO_SERVER
from shopflow.customers.models import PrivateLink
from shopflow.offers.models import Approval, LaidOut, Offer, Option, OptionFinding, Treatment
from shopflow.workshop.models import Task
from tests import cast

from . import offer_cast

pytestmark = pytest.mark.django_db
ODD = ["-3", "1e400", "NaN", "1,5x", "999999", "٣", "--"]


@pytest.fixture
def there():
    return offer_cast.piano()


@pytest.fixture
def maud(there, client):
    client.force_login(there.by)
    return client


def form_of(offer: Offer, **changed: Any) -> dict[str, Any]:
    """What the draft's page would send as it stands, with some of it typed over."""
    sent: dict[str, Any] = {
        "edition": offer.edition,
        "words": offer.words,
        "holds_until": offer.holds_until.isoformat(),
        "deposit": str(offer.deposit),
    }
    for option in offer.options.all():
        at = f"o{option.pk}"
        sent |= {f"{at}-name": option.name, f"{at}-words": option.words, f"{at}-price": ""}
        for row in option.findings.all():
            left = row.treatment == Treatment.LEAVE
            sent[f"{at}-f{row.finding_id}-do"] = "leave" if left else str(row.remedy_id)
            if left:
                sent[f"{at}-f{row.finding_id}-reason"] = row.reason
                sent[f"{at}-f{row.finding_id}-expect"] = row.consequence
                sent[f"{at}-f{row.finding_id}-wait"] = "on"
    return sent | changed


def test_a_draft_is_begun_from_the_usual_ways_and_once(maud, there):
    typed = {"key": "k" * 22, "levels": ["keep-going", "rebuilt"]}
    for _ in range(2):
        answer = maud.post("/instruments/214/offers/new/", typed)
        assert answer.headers["Location"] == "/instruments/214/offers/1/"
    assert [one.name for one in Option.objects.all()] == ["Keep it going", "Rebuilt"]
    page = maud.get("/instruments/214/offers/1/").content.decode()
    assert "asking the plan" in page
    assert "hammers worn" in page


def test_no_way_ticked_is_told(maud):
    answer = maud.post("/instruments/214/offers/new/", {"key": "k" * 22})
    assert answer.status_code == 422
    assert "Choose at least one" in answer.content.decode()


def test_words_prices_and_remedies_are_kept_as_typed(maud, there):
    offer = offer_cast.draft(there, "keep-going")
    option, hammers = offer.options.get(), there.findings["hammers"]
    typed = {
        "words": "Dear Agnes",
        f"o{option.pk}-price": "1,240",
        f"o{option.pk}-price_reason": "old friends",
        f"o{option.pk}-price_low": "1200",
        f"o{option.pk}-price_high": "1400.50",
        f"o{option.pk}-f{hammers.pk}-do": str(there.remedies["hammers"].pk),
        "recommended": str(option.pk),
    }
    assert maud.post("/instruments/214/offers/1/", form_of(offer, **typed)).status_code == 302
    option.refresh_from_db()
    offer.refresh_from_db()
    assert (offer.words, option.price, option.price_reason) == ("Dear Agnes", 1240, "old friends")
    assert (option.price_low, option.price_high) == (1200, Decimal("1400.50"))
    assert option.reckoned == 460, "the sums follow the remedies"
    assert OptionFinding.objects.get(option=option, finding=hammers).treatment == Treatment.REPAIR


def test_what_is_left_is_worded_by_the_shop_and_stays_so_when_remedies_change(maud, there):
    offer = offer_cast.draft(there, "keep-going")
    option, veneer, hammers = offer.options.get(), there.findings["veneer"], there.findings["hammers"]
    at = f"o{option.pk}-f{veneer.pk}"
    typed = {f"{at}-reason": "wish", f"{at}-expect": "It stays as you know it."}
    typed[f"o{option.pk}-f{hammers.pk}-do"] = str(there.remedies["hammers"].pk)
    sent = form_of(offer, **typed)
    del sent[f"{at}-wait"]
    maud.post("/instruments/214/offers/1/", sent)
    row = OptionFinding.objects.get(option=option, finding=veneer)
    assert (row.reason, row.consequence, row.can_wait) == ("wish", "It stays as you know it.", False)


@pytest.mark.parametrize("field", ["price", "price_low"])
@pytest.mark.parametrize("odd", ODD)
def test_sums_that_cannot_be_are_refused_with_what_is_allowed(maud, there, field, odd):
    offer = offer_cast.draft(there, "keep-going")
    at = f"o{offer.options.get().pk}-{field}"
    answer = maud.post("/instruments/214/offers/1/", form_of(offer, words="Typed before", **{at: odd}))
    words = answer.content.decode()
    assert answer.status_code == 422
    assert "allowed is" in words
    assert "Typed before" in words
    assert odd in words


def test_a_price_below_cost_or_without_a_reason_is_refused(maud, there):
    offer = offer_cast.draft(there, "keep-going")
    at = f"o{offer.options.get().pk}-price"
    for price, reason, said in (
        ("290", "because", "allowed is £291"),
        ("400", "", "say why it is another price"),
    ):
        sent = form_of(offer, **{at: price, f"{at}_reason": reason})
        answer = maud.post("/instruments/214/offers/1/", sent)
        assert answer.status_code == 422
        assert said in answer.content.decode()
    assert offer.options.get().price == 370


def test_a_range_must_hold_its_price(maud, there):
    offer = offer_cast.draft(there, "keep-going")
    at = f"o{offer.options.get().pk}"
    for low, high in (("300", ""), ("380", "400"), ("100", "200")):
        sent = form_of(offer, **{f"{at}-price_low": low, f"{at}-price_high": high})
        assert maud.post("/instruments/214/offers/1/", sent).status_code == 422


@pytest.mark.parametrize("day", ["2026-02-30", "0001-01-01", "9999-12-31", "yesterday", ""])
def test_days_that_cannot_be_are_refused(maud, there, day):
    offer = offer_cast.draft(there, "keep-going")
    assert maud.post("/instruments/214/offers/1/", form_of(offer, holds_until=day)).status_code == 422


def test_a_remedy_of_another_finding_is_not_taken(maud, there):
    offer = offer_cast.draft(there, "keep-going")
    at = f"o{offer.options.get().pk}-f{there.findings['hammers'].pk}-do"
    sent = form_of(offer, **{at: str(there.remedies["veneer"].pk)})
    assert maud.post("/instruments/214/offers/1/", sent).status_code == 422


def test_the_same_draft_sent_twice_is_kept_once_and_an_older_one_is_shown_beside(maud, there):
    offer = offer_cast.draft(there, "keep-going")
    sent = form_of(offer, words="First")
    assert [maud.post("/instruments/214/offers/1/", sent).status_code for _ in range(2)] == [302, 302]
    offer.refresh_from_db()
    edition = offer.edition
    clash = maud.post("/instruments/214/offers/1/", form_of(offer, edition=edition - 1, words="Second"))
    said = clash.content.decode()
    assert clash.status_code == 409
    assert "First" in said
    assert "Second" in said
    offer.refresh_from_db()
    assert (offer.words, offer.edition) == ("First", edition)


def test_ways_are_added_and_taken_out(maud, there):
    offer = offer_cast.draft(there, "keep-going")
    added = maud.post("/instruments/214/offers/1/add/", {"edition": offer.edition, "way": "case-only"})
    assert added.status_code == 302
    offer.refresh_from_db()
    first = offer.options.first()
    gone = maud.post(f"/instruments/214/offers/1/options/{first.pk}/take-out/", {"edition": offer.edition})
    assert gone.status_code == 302
    assert [one.level for one in offer.options.all()] == ["case-only"]
    stale = maud.post("/instruments/214/offers/1/add/", {"edition": 1, "way": "rebuilt"})
    assert stale.status_code == 409


def test_the_preview_is_what_the_customer_then_sees(maud, there):
    offer_cast.draft(there)
    seen = maud.get("/instruments/214/offers/1/look/").content.decode()
    block = seen[seen.index('<ul class="ways">') : seen.index("What may move the price")]
    maud.post("/instruments/214/offers/1/send/", {"edition": Offer.objects.get().edition})
    browser = customer_of(maud)
    shown = browser.get("/yours/offers/1/").content.decode()
    assert block in shown


def customer_of(maud: Client) -> Client:
    """A customer's browser, let in by a link that the office makes."""
    typed = {"key": "c" * 22, "days": "30"}
    words = maud.post("/instruments/214/links/make/", typed).content.decode()
    token = words.split("/yours/")[1].split("/")[0]
    browser = Client()
    assert browser.get(f"/yours/{token}/").status_code == 302
    return browser


def send(maud: Client, **typed: Any) -> Any:
    edition = Offer.objects.get(version=1, instrument__number="214").edition
    return maud.post("/instruments/214/offers/1/send/", {"edition": edition} | typed)


def test_sending_freezes_it_and_mails_link_and_paper(maud, there):
    offer_cast.draft(there)
    answer = send(maud, mail_to="agnes@applegarth.example", for_whom="Agnes Applegarth")
    assert answer.status_code == 200
    offer = Offer.objects.get()
    assert (offer.state, len(offer.fingerprint)) == (Offer.State.SENT, 64)
    (letter,) = mail.outbox
    (paper,) = letter.attachments
    assert paper[0] == "offer-214-1.pdf"
    assert paper[1].startswith(b"%PDF-")
    (address,) = [line for line in letter.body.splitlines() if "/yours/" in line]
    assert address in answer.content.decode()
    assert Client().get(address.removeprefix("http://testserver")).status_code == 302


def test_without_a_mail_server_nothing_is_called_sent_and_the_page_says_what_to_do(maud, there, settings):
    settings.EMAIL_BACKEND = NO_SERVER
    offer_cast.draft(there)
    words = html.unescape(send(maud, mail_to="agnes@applegarth.example").content.decode())
    assert "Nothing was mailed: no mail server is named" in words
    assert "SHOPFLOW_EMAIL_HOST" in words
    assert "went by mail" not in words
    assert "It is out" not in words
    assert "/yours/" in words, "the link is to be given by hand"


def test_an_offer_that_was_not_to_be_mailed_says_so(maud, there):
    offer_cast.draft(there)
    assert "Nothing was mailed, as you wished" in send(maud, mail_to="").content.decode()


def test_sent_twice_it_goes_out_once(maud, there):
    offer_cast.draft(there)
    first, again = (
        send(maud, mail_to="agnes@applegarth.example"),
        send(maud, mail_to="agnes@applegarth.example"),
    )
    assert (first.status_code, again.status_code) == (200, 302)
    assert PrivateLink.objects.count() == len(mail.outbox) == 1


def test_an_offer_whose_day_is_past_or_that_is_empty_is_not_sent(maud, there):
    offer = offer_cast.draft(there)
    Offer.objects.update(holds_until=clock.today() - timedelta(days=1))
    assert "allowed is today or later" in send(maud).content.decode()
    Offer.objects.update(holds_until=clock.today())
    offer.options.all().delete()
    assert "at least one option" in send(maud).content.decode()
    assert Offer.objects.get().state == Offer.State.DRAFT


def test_what_was_sent_is_not_changed_any_more(maud, there):
    offer = offer_cast.draft(there)
    send(maud)
    frozen = Offer.objects.get().frozen
    assert maud.post("/instruments/214/offers/1/", form_of(offer, words="Changed")).status_code == 409
    add = maud.post("/instruments/214/offers/1/add/", {"edition": offer.edition, "way": "rebuilt"})
    assert add.status_code == 422
    assert Offer.objects.get().frozen == frozen


def test_a_new_version_replaces_the_one_that_waits_and_both_stay_readable(maud, there):
    offer_cast.draft(there)
    send(maud)
    for _ in range(2):
        answer = maud.post("/instruments/214/offers/1/copy/", {"key": "v" * 22})
        assert answer.headers["Location"] == "/instruments/214/offers/2/"
    second = Offer.objects.get(version=2)
    maud.post("/instruments/214/offers/2/send/", {"edition": second.edition})
    assert list(Offer.objects.order_by("version").values_list("state", flat=True)) == ["replaced", "sent"]
    assert [maud.get(f"/instruments/214/offers/{n}/").status_code for n in (1, 2)] == [200, 200]


@pytest.mark.parametrize(("button", "state"), [("withdraw", "withdrawn"), ("decline", "declined")])
def test_it_is_withdrawn_or_declined_with_a_reason(maud, there, button, state):
    offer_cast.draft(there)
    send(maud)
    url = f"/instruments/214/offers/1/{button}/"
    assert maud.post(url, {"why": " "}).status_code == 422
    assert [maud.post(url, {"why": "too dear"}).status_code for _ in range(2)] == [302, 302]
    offer = Offer.objects.get()
    assert (offer.state, offer.ended_why) == (state, "too dear")


def test_the_office_enters_a_yes_on_paper_and_the_deposit(maud, there):
    offer_cast.draft(there, "keep-going")
    send(maud)
    option = Option.objects.get()
    typed = {"option": option.pk, "typed_name": "Agnes", "signed_on": clock.today().isoformat()}
    assert maud.post("/instruments/214/offers/1/yes/", typed | {"typed_name": ""}).status_code == 422
    assert [maud.post("/instruments/214/offers/1/yes/", typed).status_code for _ in range(2)] == [302, 302]
    assert Approval.objects.count() == 1
    assert Task.objects.count() == 4
    late = (clock.today() + timedelta(days=2)).isoformat()
    assert maud.post("/instruments/214/offers/1/deposit/", {"on": late}).status_code == 422
    assert (
        maud.post("/instruments/214/offers/1/deposit/", {"on": clock.today().isoformat()}).status_code == 302
    )
    assert Offer.objects.get().deposit_noted_on == clock.today()


def test_the_office_is_suggested_a_promise_from_the_weeks_of_the_plan(maud, there):
    offer_cast.draft(there, "keep-going")
    send(maud)
    Option.objects.update(weeks_low=3, weeks_high=Decimal("5.5"))
    typed = {"option": Option.objects.get().pk, "typed_name": "Agnes", "signed_on": clock.today().isoformat()}
    maud.post("/instruments/214/offers/1/yes/", typed)
    suggested = clock.today() + timedelta(days=39)
    assert f"{suggested:%-d %B %Y}" in maud.get("/instruments/214/offers/1/").content.decode()


def test_the_paper_of_an_offer_is_there_once_it_is_sent(maud, there):
    offer_cast.draft(there)
    assert maud.get("/instruments/214/offers/1/paper.pdf").status_code == 404
    send(maud)
    paper = maud.get("/instruments/214/offers/1/paper.pdf")
    assert paper.headers["Content-Type"] == "application/pdf"
    assert paper.content.startswith(b"%PDF-")


def test_another_pianos_versions_options_and_scopes_are_not_found(maud, there):
    offer_cast.draft(there)
    other = offer_cast.draft(offer_cast.piano(there.by, number="215"), "rebuilt")
    assert maud.get("/instruments/214/offers/2/").status_code == 404
    strange = other.options.get().pk
    assert (
        maud.post(f"/instruments/214/offers/1/options/{strange}/take-out/", {"edition": 1}).status_code == 404
    )
    assert Option.objects.filter(pk=strange).exists()


def test_lists_cost_a_fixed_number_of_queries(maud, there, django_assert_num_queries):
    def look() -> None:
        maud.get("/instruments/214/offers/")
        maud.get("/offers/")

    for number in range(3):
        offer_cast.draft(there if not number else offer_cast.piano(there.by, number=f"30{number}"))
    send(maud)
    with django_assert_num_queries(18):
        look()
    for number in range(3, 6):
        offer_cast.sent(offer_cast.piano(there.by, number=f"30{number}"))
    with django_assert_num_queries(18):
        look()


def test_the_overview_says_what_waits_for_whom(maud, there):
    assert "surveyed, no offer yet" in maud.get("/offers/").content.decode()
    offer_cast.draft(there)
    assert "version 1: to be sent" in maud.get("/offers/").content.decode()
    send(maud)
    words = maud.get("/offers/").content.decode()
    assert "Agnes Applegarth" in words
    assert "never" in words


def test_hands_and_strangers_see_no_offer(there):
    offer_cast.sent(there)
    for who in (cast.finisher(), cast.stranger()):
        browser = Client()
        browser.force_login(who)
        for url in ("/offers/", "/instruments/214/offers/", "/instruments/214/offers/1/"):
            assert browser.get(url).status_code == 403


def test_work_is_added_by_hand_for_what_the_library_does_not_know(maud, there):
    offer = offer_cast.draft(there, "keep-going")
    option, smell = offer.options.get(), there.findings["smell"]
    at, hammers = f"o{option.pk}", there.operations["hammers"]
    alone = maud.post("/instruments/214/offers/1/", form_of(offer, **{f"{at}-f{smell.pk}-do": "hand"}))
    assert alone.status_code == 422
    assert "add the work by which" in alone.content.decode()
    sent = form_of(offer, **{f"{at}-f{smell.pk}-do": "hand", f"{at}-more": str(hammers.pk)})
    assert [maud.post("/instruments/214/offers/1/", sent).status_code for _ in range(2)] == [302, 302]
    row = OptionFinding.objects.get(option=option, finding=smell)
    assert (row.treatment, row.remedy) == (Treatment.REPAIR, None)
    option.refresh_from_db()
    assert option.price == 460
    send(maud)
    typed = {"option": option.pk, "typed_name": "Agnes", "signed_on": clock.today().isoformat()}
    maud.post("/instruments/214/offers/1/yes/", typed)
    tied = LaidOut.objects.get(finding=smell)
    assert tied.task.operation == hammers


def test_work_added_by_hand_is_taken_out_again(maud, there):
    offer = offer_cast.draft(there, "keep-going")
    option, hammers = offer.options.get(), there.operations["hammers"]
    maud.post("/instruments/214/offers/1/", form_of(offer, **{f"o{option.pk}-more": str(hammers.pk)}))
    offer.refresh_from_db()
    assert option.works.filter(operation=hammers, by_hand=True).exists()
    maud.post("/instruments/214/offers/1/", form_of(offer, **{f"o{option.pk}-drop": str(hammers.pk)}))
    assert not option.works.filter(operation=hammers).exists()
    option.refresh_from_db()
    assert option.price == 370
