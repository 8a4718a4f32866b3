"""Options of the usual levels: what each mends, what it leaves and why, and what it comes to."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shopflow.common.refusals import Refused
from shopflow.instruments.models import Finding
from shopflow.offers.models import Offer, Option, OptionFinding, Scope, Treatment
from shopflow.offers.services import drafting, offers, sending
from shopflow.people.access import NotAllowed
from tests import cast

from . import offer_cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def there():
    return offer_cast.piano()


def does(option: Option) -> dict[str, str]:
    return {
        row.finding.kind.code if row.finding.kind else "smell": row.treatment for row in option.findings.all()
    }


@pytest.mark.parametrize("role", [cast.stranger, cast.finisher])
def test_only_the_office_drafts_an_offer(there, role):
    with pytest.raises(NotAllowed):
        drafting.draft(instrument=there.instrument, levels=["keep-going"], by=role())
    assert not Offer.objects.exists()


@pytest.mark.parametrize(
    ("level", "mended"),
    [
        ("keep-going", {"bridge"}),
        ("good-order", {"bridge", "hammers", "veneer"}),
        ("rebuilt", {"bridge", "hammers", "veneer"}),
        ("case-only", {"bridge", "veneer"}),
    ],
)
def test_each_level_mends_what_it_says_and_never_leaves_what_is_unsafe(there, level, mended):
    option = offer_cast.draft(there, level).options.get()
    assert {code for code, what in does(option).items() if what != Treatment.LEAVE} == mended


def test_every_finding_stands_in_every_option(there):
    for option in offer_cast.draft(there).options.all():
        assert set(does(option)) == set(there.findings)


def test_what_is_opened_is_closed_and_paid_once(there):
    option = offer_cast.draft(there, "keep-going").options.get()
    assert {work.operation.code for work in option.works.all()} == {"receive", "off", "bridge", "on"}
    # Four operations of 2 h at 31.37 and 10 of materials: 290.96; 25 % on top: 363.70, up to whole tens.
    assert (option.hours, option.cost) == (Decimal("8.0"), Decimal("290.96"))
    assert option.price == option.reckoned == Decimal(370)


def test_what_is_left_says_why_what_to_expect_and_what_it_costs_now_and_later(there):
    option = offer_cast.draft(there, "keep-going").options.get()
    hammers = OptionFinding.objects.get(option=option, finding=there.findings["hammers"])
    assert (hammers.reason, hammers.consequence) == (Finding.Reason.MONEY, "The hammers gets worse.")
    # Alone it is hammers and receiving: 145.48, with margin 181.85, rounded up. Now: from 370 to 460.
    assert (hammers.price_now, hammers.price_later) == (Decimal(90), Decimal(190))
    smell = OptionFinding.objects.get(option=option, finding=there.findings["smell"])
    assert (smell.reason, smell.price_now) == (Finding.Reason.SOUND, None)


def test_a_form_sent_twice_makes_one_draft(there):
    made = [
        drafting.draft(instrument=there.instrument, levels=["rebuilt"], by=there.by, key="k" * 22)
        for _ in range(3)
    ]
    assert len({offer.pk for offer in made}) == 1
    assert Offer.objects.count() == Option.objects.count() == 1


def test_no_way_to_go_and_too_many_are_refused(there):
    for levels in ([], ["keep-going"] * 5):
        with pytest.raises(Refused):
            drafting.draft(instrument=there.instrument, levels=levels, by=there.by)
    assert not Offer.objects.exists()


def test_a_new_version_copies_the_old_one_and_leaves_it_alone(there):
    first, _ = offer_cast.sent(there)
    before = (
        first.fingerprint,
        first.options.count(),
        OptionFinding.objects.filter(option__offer=first).count(),
    )
    second = offers.copy_as_draft(offer=first, by=there.by)
    assert (second.version, second.state) == (2, Offer.State.DRAFT)
    assert [one.name for one in second.options.all()] == [one.name for one in first.options.all()]
    first.refresh_from_db()
    assert before == (
        first.fingerprint,
        first.options.count(),
        OptionFinding.objects.filter(option__offer=first).count(),
    )
    assert first.state == Offer.State.SENT


def test_what_is_mended_already_is_not_offered_again(there):
    Finding.objects.filter(pk=there.findings["hammers"].pk).update(state=Finding.State.MENDED)
    assert "hammers" not in does(offer_cast.draft(there, "rebuilt").options.get())


def test_a_scope_that_was_weighed_becomes_an_option(there):
    bridge, remedy = there.findings["bridge"], there.remedies["bridge"]
    chosen = [f"{bridge.pk}:{remedy.pk}", f"op:{there.operations['receive'].pk}", "nonsense"]
    kept = Scope.objects.create(
        instrument=there.instrument, name="Before the wedding", budget=900, chosen=chosen, made_by=there.by
    )
    offer = drafting.draft(instrument=there.instrument, levels=[], scopes=[kept], by=there.by)
    option = offer.options.get()
    assert (option.name, option.scope, option.price) == ("Before the wedding", kept, 370)
    assert {code for code, what in does(option).items() if what != Treatment.LEAVE} == {"bridge"}


def test_what_the_customer_wished_left_in_a_weighed_scope_is_left_by_wish_not_for_money(there):
    wished, hammers = there.findings["veneer"], there.findings["hammers"]
    kept = Scope.objects.create(
        instrument=there.instrument,
        budget=900,
        chosen=[],
        wishes={"insist": [], "refuse": [str(wished.pk)]},
        made_by=there.by,
    )
    offer = drafting.draft(instrument=there.instrument, levels=[], scopes=[kept], by=there.by)
    reasons = dict(offer.options.get().findings.values_list("finding_id", "reason"))
    assert (reasons[wished.pk], reasons[hammers.pk]) == (Finding.Reason.WISH, Finding.Reason.MONEY)


def test_what_is_unsafe_is_not_left_in_an_offer_that_goes_out(there):
    offer = drafting.draft(instrument=there.instrument, levels=["own"], by=there.by)
    assert does(offer.options.get())["bridge"] == Treatment.LEAVE
    with pytest.raises(Refused, match=r"Unsafe, so it cannot just be left.*bridge worn"):
        sending.send(offer=offer, seen_edition=offer.edition, by=there.by)
    offer.refresh_from_db()
    assert offer.state == Offer.State.DRAFT


def test_an_instrument_without_findings_gets_an_option_of_what_every_job_has(there):
    bare = cast.instrument(by=there.by, number="300")
    option = drafting.draft(instrument=bare, levels=["good-order"], by=there.by).options.get()
    assert [work.operation.code for work in option.works.all()] == ["receive"]
