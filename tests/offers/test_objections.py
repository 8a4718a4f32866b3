"""What a rebuilder would object to in a draft: told, not sent, or sent with a reason that is kept."""

from __future__ import annotations

import pytest

from shopflow.catalogue.models import Operation
from shopflow.common.refusals import Refused
from shopflow.offers.models import Objection, OptionWork
from shopflow.offers.selectors.objections import objections_to
from shopflow.offers.selectors.whole_job import Reckoner
from shopflow.offers.services import objecting, sending
from shopflow.people.access import NotAllowed
from tests import cast

from . import offer_cast

pytestmark = pytest.mark.django_db
GOES = "“Polish” is work on the old hammers, and “Hammers” throws the old hammers away."


@pytest.fixture
def there():
    """New hammers throw the old ones away; polishing is work on the old ones."""
    piano = offer_cast.piano()
    cast.says(piano.operations["hammers"], renews=["hammers"])
    polish = cast.operation("polish", at=piano.operations["hammers"].department)
    cast.says(polish, keeps=["hammers"])
    return piano


def put_in(offer, *codes):
    """Write work into an option as an earlier version of the catalogue would have let it."""
    option = offer.options.get()
    for code in codes:
        OptionWork.objects.create(
            option=option, operation=Operation.objects.get(code=code), hours=1, cost=1, price=1
        )
    return option


def objections(offer):
    return [one.words for one in objections_to(offer, Reckoner.of(offer.instrument))]


def test_nothing_is_objected_to_in_the_usual_ways(there):
    offer = offer_cast.draft(there, "keep-going", "good-order", "rebuilt", "case-only")
    assert objections(offer) == []


def test_work_against_other_work_is_told_and_keeps_the_offer_here(there):
    offer = offer_cast.draft(there, "good-order")
    option = put_in(offer, "polish")
    assert objections(offer) == [GOES]
    with pytest.raises(Refused, match="A rebuilder would object"):
        sending.send(offer=offer, seen_edition=offer.edition, by=there.by)
    objecting.answer_objection(
        offer=offer,
        option=option,
        words=GOES,
        reason="they go back as samples",
        seen_edition=offer.edition,
        by=there.by,
    )
    sent = sending.send(offer=offer, seen_edition=offer.edition, by=there.by).offer
    kept = Objection.objects.get(option__offer=sent)
    assert (kept.words, kept.reason, kept.by) == (GOES, "they go back as samples", there.by)
    assert "samples" not in str(sent.frozen)


def test_a_missing_closing_is_told(there):
    offer = offer_cast.draft(there, "good-order")
    OptionWork.objects.filter(option__offer=offer, operation__code="on").delete()
    assert objections(offer) == [
        "Something is missing: after “Off” no piano leaves without the strings on, so it takes “On”."
    ]


def test_needless_work_is_told(there):
    cast.says(there.operations["veneer"], covers=["polish"])
    Operation.objects.filter(code="hammers").update(state={"at": []})
    cast.catalogue_changed()
    offer = offer_cast.draft(there, "good-order")
    put_in(offer, "polish")
    assert objections(offer) == ["“Polish” is needless: “Veneer” does it as well."]


def test_work_added_by_hand_is_judged_the_same_way(there, client):
    offer = offer_cast.draft(there, "good-order")
    option, polish = offer.options.get(), Operation.objects.get(code="polish")
    client.force_login(there.by)
    from .test_offer_pages import form_of

    assert (
        client.post(
            "/instruments/214/offers/1/", form_of(offer, **{f"o{option.pk}-more": str(polish.pk)})
        ).status_code
        == 302
    )
    page = client.get("/instruments/214/offers/1/").content.decode()
    assert "A rebuilder would object" in page
    assert "throws the old hammers away" in page


def test_an_answer_needs_a_reason_and_an_objection_that_stands(there):
    offer = offer_cast.draft(there, "good-order")
    option = put_in(offer, "polish")
    said = {"offer": offer, "option": option, "seen_edition": offer.edition, "by": there.by}
    with pytest.raises(Refused, match="Say why"):
        objecting.answer_objection(words=GOES, reason=" ", **said)
    with pytest.raises(Refused, match="does not stand"):
        objecting.answer_objection(words="Something else.", reason="so", **said)
    with pytest.raises(NotAllowed):
        objecting.answer_objection(**(said | {"by": cast.stranger()}), words=GOES, reason="so")
    assert not Objection.objects.exists()


def test_the_page_takes_the_answer(there, client):
    offer = offer_cast.draft(there, "good-order")
    option = put_in(offer, "polish")
    address = f"/instruments/214/offers/1/options/{option.pk}/stays-so/"
    typed = {"edition": offer.edition, "words": GOES, "reason": "they go back as samples"}
    assert client.post(address, typed).status_code == 302  # To the door: nobody is signed in.
    assert not Objection.objects.exists()
    client.force_login(there.by)
    assert client.post(address, typed | {"reason": ""}).status_code == 422
    assert client.post(address, typed).status_code == 302
    assert "they go back as samples" in client.get("/instruments/214/offers/1/").content.decode()


def test_ways_that_come_to_the_same_work_stand_once(there):
    offer = offer_cast.draft(there, "good-order", "rebuilt")
    option = offer.options.get()
    assert (option.level, "“Rebuilt” comes to the same work" in option.words) == ("good-order", True)
    from shopflow.offers.services import drafting

    with pytest.raises(Refused, match="would stand twice"):
        drafting.add_option(offer=offer, level="rebuilt", seen_edition=offer.edition, by=there.by)
