"""The customer's side of an offer: what is seen, what is never seen, and the one explicit act."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.utils import timezone

from shopflow.common import clock, job_runs
from shopflow.common.mail import NO_SERVER
from shopflow.common.models import Job
from shopflow.offers.frozen import fingerprint_of
from shopflow.offers.models import Approval, Offer, Option
from shopflow.offers.services import approving, offers, sending
from shopflow.offers.services.freezing import weeks_in_words
from shopflow.photos.models import Photo
from shopflow.photos.services import add_photo, make_copies
from shopflow.workshop.models import Task
from tests import cast
from tests.photos import pictures

from . import offer_cast
from .links import as_customer

pytestmark = pytest.mark.django_db

ALLOWED = {
    *(
        "shop",
        "name",
        "town",
        "address",
        "demo",
        "instrument",
        "number",
        "title",
        "serial",
        "customer",
        "version",
    ),
    *("sent_on", "sent_on_words", "words", "value", "holds_until", "holds_words", "deposit", "options", "id"),
    *(
        "letter",
        "level",
        "recommended",
        "price",
        "range",
        "weeks",
        "counts",
        "mended",
        "how",
        "works",
        "left",
    ),
    *(
        "why",
        "expect",
        "furniture",
        "can_wait",
        "later",
        "ride",
        "now",
        "findings",
        "plain",
        "group",
        "severity",
        "sure",
    ),
    *("if_left", "photo", "photo_words", "unseen", "surprise", "warranty", "foot"),
}


@pytest.fixture
def there():
    return offer_cast.piano()


@pytest.fixture
def offer(there):
    return offer_cast.sent(there)[0]


@pytest.fixture
def agnes(there, offer):
    return as_customer(there.instrument, by=there.by)


def yes(offer: Offer, **typed: Any) -> dict[str, Any]:
    first = offer.options.first().pk
    sent = {
        "option": first,
        "typed_name": "Agnes Applegarth",
        "agree": "on",
        "fingerprint": offer.fingerprint,
    }
    return sent | typed


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (None, None, ""),
        ("0.0", "0.3", "within a week from your yes"),
        ("0.4", "3.1", "1 to 4 weeks from your yes"),
        ("9.2", "14", "10 to 14 weeks from your yes"),
        ("6", "6", "6 weeks from your yes"),
    ],
)
def test_weeks_are_told_whole_and_never_none(low, high, said):
    assert weeks_in_words(*(Decimal(one) if one else None for one in (low, high))) == said


def names_in(words: Any) -> Iterator[str]:
    if isinstance(words, dict):
        for name, inside in words.items():
            yield name
            yield from names_in(inside)
    elif isinstance(words, list):
        for inside in words:
            yield from names_in(inside)


def test_only_what_is_allowed_is_frozen(offer):
    assert set(names_in(offer.frozen)) <= ALLOWED
    assert not [name for name in ALLOWED if re.search("cost|margin|hour|rate", name)]


def test_no_sum_of_the_shops_is_in_what_is_frozen(offer):
    plain = json.dumps(offer.frozen)
    for option in offer.options.all():
        inside = [option.cost, option.hours, option.price - option.cost]
        inside += [work.cost for work in option.works.all()]
        assert [
            one for one in inside if re.search(rf"(?<![\d.]){re.escape(f'{one:f}')}(?![\d.])", plain)
        ] == []


def test_the_fingerprint_is_of_exactly_what_was_frozen(offer):
    assert offer.fingerprint == fingerprint_of(offer.frozen)
    changed = json.loads(json.dumps(offer.frozen))
    changed["options"][0]["price"] = "£1"
    assert fingerprint_of(changed) != offer.fingerprint


def test_no_page_or_paper_of_a_customer_shows_the_shops_sums_or_anybody_else(there, offer, agnes):
    offer_cast.sent(offer_cast.piano(there.by, number="999", customer=cast.customer("Other Person")))
    Offer.objects.update(words="We thank you.")
    for url in ("/yours/", "/yours/offers/1/"):
        words = agnes.get(url).content.decode()
        assert "Keep it going" in words or url == "/yours/"
        for private in ("290.96", "31.37", "margin", "costs the shop", "999", "Other Person", there.by.name):
            assert private not in words, (url, private)
        assert not re.search(r"\d h\b", words)
        assert "<script" not in words


def test_an_offer_of_another_piano_and_a_draft_are_not_there(there, agnes):
    offer_cast.sent(offer_cast.piano(there.by, number="999"))
    offers.copy_as_draft(offer=Offer.objects.get(instrument=there.instrument), by=there.by)
    nothing = Client().get("/yours/").content
    for url in ("/yours/offers/2/", "/yours/offers/3/", "/yours/offers/0/", "/yours/offers/2/paper.pdf"):
        answer = agnes.get(url)
        assert (answer.status_code, answer.content) == (404, nothing)
    assert Client().get("/yours/offers/1/").status_code == 404


def test_a_later_owner_of_the_piano_sees_nothing_of_the_earlier_one(there, offer):
    there.instrument.customer = cast.customer("Bernard Newcome")
    there.instrument.save()
    browser = as_customer(there.instrument, by=there.by)
    page = browser.get("/yours/").content.decode()
    assert "Nothing waits for you" in page
    assert "version 1" not in page
    for url in ("/yours/offers/1/", "/yours/offers/1/paper.pdf"):
        assert browser.get(url).status_code == 404
    assert browser.post("/yours/offers/1/", yes(offer)).status_code == 404
    assert not Approval.objects.exists()


def test_a_get_approves_nothing_however_it_is_dressed(agnes, offer):
    for query in ("", "?agree=on&typed_name=Agnes&option=1", f"?fingerprint={offer.fingerprint}&agree=on"):
        assert agnes.get(f"/yours/offers/1/{query}").status_code == 200
    assert agnes.head("/yours/offers/1/").status_code == 200
    assert not Approval.objects.exists()


def test_the_customer_says_yes_and_the_work_is_laid_out(agnes, offer):
    answer = agnes.post("/yours/offers/1/", yes(offer))
    assert answer.headers["Location"] == "/yours/offers/1/"
    page = agnes.get("/yours/offers/1/").content.decode()
    assert "Approved: Keep it going" in page
    assert "I say yes to this" not in page
    assert Task.objects.count() == 4
    given = Approval.objects.get()
    assert given.link is not None
    assert given.entered_by is None


def test_a_form_without_its_token_is_refused(offer, there):
    browser = Client(enforce_csrf_checks=True)
    browser.cookies = as_customer(there.instrument, by=there.by).cookies
    assert browser.post("/yours/offers/1/", yes(offer)).status_code == 403
    page = browser.get("/yours/offers/1/").content.decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)[1]
    assert browser.post("/yours/offers/1/", yes(offer, csrfmiddlewaretoken=token)).status_code == 302


@pytest.mark.parametrize(
    "wrong", [{"agree": ""}, {"typed_name": " "}, {"option": ""}, {"option": "x"}, {"typed_name": "y" * 81}]
)
def test_without_tick_name_or_choice_nothing_is_approved_and_what_was_typed_stays(agnes, offer, wrong):
    answer = agnes.post("/yours/offers/1/", yes(offer, **({"typed_name": "Agnes of the mill"} | wrong)))
    assert answer.status_code == 422
    words = answer.content.decode()
    assert "Nothing was approved yet" in words
    assert "typed_name" in wrong or "Agnes of the mill" in words
    assert not Approval.objects.exists()


def test_an_option_of_somebody_elses_offer_is_refused(there, agnes, offer):
    other, _ = offer_cast.sent(offer_cast.piano(there.by, number="999"))
    assert agnes.post("/yours/offers/1/", yes(offer, option=other.options.first().pk)).status_code == 422
    assert not Approval.objects.exists()


def test_fields_that_were_smuggled_in_are_ignored(agnes, offer):
    smuggled = {"price": "1", "state": "approved", "entered_by": "1", "signed_on": "2020-01-01"}
    agnes.post("/yours/offers/1/", yes(offer, **smuggled))
    given = Approval.objects.get()
    assert (given.entered_by, given.signed_on) == (None, None)
    assert given.option.price == Option.objects.get(pk=given.option_id).reckoned


def test_the_same_yes_twice_is_one_and_another_is_told(agnes, offer):
    assert [agnes.post("/yours/offers/1/", yes(offer)).status_code for _ in range(3)] == [302] * 3
    other = agnes.post("/yours/offers/1/", yes(offer, option=offer.options.last().pk))
    assert other.status_code == 409
    assert "approved already" in other.content.decode()
    assert Approval.objects.count() == 1


def test_a_yes_to_a_replaced_version_shows_both(there, agnes, offer):
    second = offers.copy_as_draft(offer=offer, by=there.by)
    second.options.filter(position=0).update(price=777)
    sending.send(offer=second, seen_edition=second.edition, by=there.by)
    answer = agnes.post("/yours/offers/1/", yes(offer))
    words = answer.content.decode()
    assert answer.status_code == 409
    for said in ("Nothing was approved", "version 1", "version 2", "£370", "£777"):
        assert said in words
    assert "took its place" in agnes.get("/yours/offers/1/").content.decode()
    assert not Approval.objects.exists()


def test_a_yes_with_another_fingerprint_is_a_409(agnes, offer):
    answer = agnes.post("/yours/offers/1/", yes(offer, fingerprint="0" * 64))
    assert answer.status_code == 409
    assert not Approval.objects.exists()


def test_past_its_day_it_says_so_and_takes_no_yes(agnes, there, offer):
    with clock.at(timezone.now() + timedelta(days=31)):
        late = as_customer(there.instrument, by=there.by)
        assert "prices held until" in late.get("/yours/offers/1/").content.decode()
        answer = late.post("/yours/offers/1/", yes(offer))
    assert answer.status_code == 422
    assert "held until" in answer.content.decode()
    assert not Approval.objects.exists()


def test_hostile_words_are_shown_as_words(there):
    hostile = "<script>alert(1)</script> {{7*7}}"
    draft = offer_cast.draft(there, "keep-going")
    Offer.objects.update(words=hostile)
    Option.objects.update(name=hostile)
    draft.refresh_from_db()
    sending.send(offer=draft, seen_edition=draft.edition, by=there.by)
    browser = as_customer(there.instrument, by=there.by)
    words = browser.get("/yours/offers/1/").content.decode()
    assert "<script>" not in words
    assert "&lt;script&gt;" in words
    assert "{{7*7}}" in words
    assert browser.get("/yours/offers/1/paper.pdf").content.startswith(b"%PDF-")


def test_both_sides_get_a_paper_of_what_was_agreed_and_once(there, agnes, offer):
    there.by.email = "maud@quillmere.example"
    there.by.save()
    for _ in range(2):
        agnes.post("/yours/offers/1/", yes(offer))
    (job,) = Job.objects.filter(kind=approving.MAIL)
    job_runs.run(job.pk)
    assert sorted(letter.to[0] for letter in mail.outbox) == [
        "agnes@applegarth.example",
        "maud@quillmere.example",
    ]
    for letter in mail.outbox:
        assert letter.attachments[0][1].startswith(b"%PDF-")
        assert "/yours/" not in letter.body


def test_without_a_mail_server_the_approval_says_that_nobody_was_written_to(there, agnes, offer, settings):
    settings.EMAIL_BACKEND = NO_SERVER
    agnes.post("/yours/offers/1/", yes(offer))
    (job,) = Job.objects.filter(kind=approving.MAIL)
    job_runs.run(job.pk)
    job.refresh_from_db()
    assert job.state == Job.State.DONE
    assert job.result == {"mailed": 0, "not mailed, no mail server": 1}
    office = Client()
    office.force_login(there.by)
    words = office.get("/instruments/214/offers/1/").content.decode()
    assert "what was agreed was mailed to nobody: give the customer the paper" in words


def test_photos_of_findings_stand_on_page_and_paper_and_others_are_not_there(there):
    shown, hidden = (a_photo(there, finding) for finding in (there.findings["bridge"], None))
    offer_cast.sent(there)
    browser = as_customer(there.instrument, by=there.by)
    page = browser.get("/yours/offers/1/").content.decode()
    assert f"/yours/photos/{shown.key}/400/" in page
    assert browser.get(f"/yours/photos/{shown.key}/400/").headers["Content-Type"] == "image/jpeg"
    assert browser.get(f"/yours/photos/{hidden.key}/400/").status_code == 404
    assert b"/Subtype/Image" in browser.get("/yours/offers/1/paper.pdf").content
    other = offer_cast.piano(there.by, number="999").instrument
    assert as_customer(other, by=there.by).get(f"/yours/photos/{shown.key}/400/").status_code == 404


def a_photo(there: offer_cast.Piano, finding: Any) -> Photo:
    made = add_photo(
        instrument=there.instrument,
        file=pictures.file(pictures.jpeg()),
        role=Photo.Role.FOUND,
        caption="as found",
        by=there.by,
    )
    Photo.objects.filter(pk=made.pk).update(finding=finding)
    return make_copies(made)


def test_the_paper_is_the_customers_too(agnes, offer):
    answer = agnes.get("/yours/offers/1/paper.pdf")
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["X-Robots-Tag"] == "noindex, nofollow"


def test_the_page_costs_a_fixed_number_of_queries(agnes, offer, django_assert_max_num_queries):
    agnes.get("/yours/offers/1/")
    with django_assert_max_num_queries(6):
        agnes.get("/yours/offers/1/")
