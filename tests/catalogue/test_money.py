"""What the shop charges, its terms, and what counts: kept, or refused with what is allowed."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from shopflow.catalogue.models import Department, MaterialBand, Operation, Terms
from shopflow.catalogue.services import money
from shopflow.people.access import NotAllowed
from tests import cast
from tests.page_forms import fill

pytestmark = pytest.mark.django_db
TERMS, COUNTS = reverse("catalogue:terms"), reverse("catalogue:what-counts")


def band(code="M1"):
    return reverse("catalogue:material", args=[code])


@pytest.mark.parametrize("who", [cast.stranger, cast.finisher])
def test_only_the_office_changes_money(trade, who):
    by = who()
    figures = (Decimal(1), Decimal(2), Decimal(3))
    with pytest.raises(NotAllowed):
        money.change_terms(by=by, **dict.fromkeys(money.TERMS, 1))
    with pytest.raises(NotAllowed):
        money.change_weights(by=by, **dict.fromkeys(money.WEIGHTS, 1))
    with pytest.raises(NotAllowed):
        money.change_band(band=MaterialBand.objects.first(), figures=figures, basis="", by=by)


def test_terms_are_kept(office, trade):
    answer = fill(
        office,
        TERMS,
        {"margin_percent": "40", "round_to": "50", "warranty": "Two years."},
        has="margin_percent",
    )
    assert answer.status_code == 302
    kept = Terms.objects.get()
    assert (kept.margin_percent, kept.round_to, kept.warranty) == (40, 50, "Two years.")


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        *[("margin_percent", typed) for typed in ("-3", "301", "1e400", "NaN", "1,5,5")],
        ("round_to", "0"),
        ("deposit_percent", "101"),
        ("holds_days", "0"),
        ("decide_days", "91"),
        ("surprise", "never"),
    ],
)
def test_terms_out_of_range_are_refused_and_stay_typed(office, trade, field, typed):
    answer = fill(office, TERMS, {field: typed}, has="margin_percent")
    assert answer.status_code == 422
    assert answer.context["form"].errors[field]
    assert not Terms.objects.exists()


def test_what_counts_is_kept_and_cannot_be_nothing(office, trade):
    assert fill(office, COUNTS, {"weighs_looks": "9"}, has="weighs_looks").status_code == 302
    assert Terms.objects.get().weighs_looks == 9
    nothing = fill(office, COUNTS, dict.fromkeys(money.WEIGHTS, "0"), has="weighs_looks")
    assert nothing.status_code == 422
    assert "At least one of the five has to count" in nothing.content.decode()
    assert fill(office, COUNTS, {"weighs_tone": "11"}, has="weighs_looks").status_code == 422
    assert Terms.objects.get().weighs_looks == 9


def test_the_second_writer_of_terms_is_told(office, trade):
    Terms.objects.create(pk=1)
    page = office.get(COUNTS)
    seen = page.context["form"].fingerprint
    Terms.objects.update(weighs_tone=7)
    sent = dict.fromkeys(money.WEIGHTS, "4") | {"seen": seen}
    answer = office.post(COUNTS, sent)
    assert answer.status_code == 409
    assert "now: 7" in answer.content.decode()
    assert Terms.objects.get().weighs_tone == 7


def test_a_band_is_kept_and_must_rise(office, trade):
    assert (
        fill(
            office, band(), {"low": "10", "likely": "60.50", "high": "90", "basis": "ours"}, has="likely"
        ).status_code
        == 302
    )
    assert MaterialBand.objects.get(code="M1").likely == Decimal("60.50")
    falling = fill(office, band(), {"low": "70"}, has="likely")
    assert falling.status_code == 422
    assert "must rise or stay equal" in falling.content.decode()
    assert fill(office, band(), {"high": "-3"}, has="likely").status_code == 422
    assert office.get(band("M9")).status_code == 404


def test_what_an_hour_costs_is_kept_with_its_department(office, trade):
    page = reverse("catalogue:department", args=["plating"])
    assert fill(office, page, {"rate": "41.75"}, has="rate").status_code == 302
    assert Department.objects.get(code="plating").rate == Decimal("41.75")
    assert fill(office, page, {"rate": "-3"}, has="rate").status_code == 422


def test_outside_work_is_kept_with_its_operation(office, trade):
    page = reverse("catalogue:operation", args=["hw-polish"])
    typed = {"outside_cost": "120", "in_every_job": "on"}
    assert fill(office, page, typed, has="outside_cost").status_code == 302
    kept = Operation.objects.get(code="hw-polish")
    assert (kept.outside_cost, kept.in_every_job) == (120, True)
    assert fill(office, page, {"outside_cost": "1,5"}, has="outside_cost").status_code == 422
