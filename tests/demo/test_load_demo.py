"""The demo, loaded whole: a newcomer's first minute must not fail."""

from __future__ import annotations

import pytest
from django.core.management import call_command

from shopflow.demo.services import NotEmpty, load_demo
from shopflow.instruments.models import Instrument, Survey
from shopflow.offers.aftercare import has_new_felt, is_restrung, untrue_old_parts
from shopflow.offers.models import ChangeOrder, Handover, Offer
from shopflow.offers.selectors.proved import proved
from shopflow.readings.models import BenchSheet, Reading

pytestmark = [pytest.mark.django_db, pytest.mark.slow]


def states(model: type) -> set[str]:
    return set(model.objects.values_list("state", flat=True))


def reports_say_what_happened(handover: Handover) -> None:
    """The report, frozen on the day of handing over, beside what the ledger of that piano proves."""
    proof = proved(handover.instrument).proof
    report = handover.frozen
    assert untrue_old_parts(report["old_parts"], proof) == []
    assert report["open"] == []
    assert ("New strings" in {care["title"] for care in report["aftercare"]}) == is_restrung(proof)
    assert ("gently" in report["words"]) <= has_new_felt(proof)
    names = {proof.knowledge.name(code) for code in proof.known}
    assert {claim["by"] for claim in report["claims"]} <= names
    sold = set(report["sold"].get("mends", []))
    assert {name for part in report["done"] for work in part["works"] for name in work["mends"]} == sold
    assert handover.instrument.handed_on is not None


def test_the_demo_loads_with_pianos_at_every_point_of_the_way():
    paper = load_demo()
    assert "maud" in paper.read_text()
    assert Instrument.objects.filter(left_on=None).count() > 30
    assert Survey.objects.filter(finished_at=None).exists()
    assert Survey.objects.exclude(finished_at=None).filter(occasion="teardown").exists()
    assert states(Offer) >= {"draft", "sent", "replaced", "approved", "declined"}
    assert states(ChangeOrder) >= {"sent", "settled"}
    assert Handover.objects.filter(handed_over_at=None).exists()
    assert Handover.objects.exclude(handed_over_at=None).count() > 1
    # Which of the six benches has fitting work open depends on the day on which the demo is loaded.
    assert BenchSheet.objects.values("kind").distinct().count() >= 4
    assert Reading.objects.filter(phase="after").exists()
    for handover in Handover.objects.exclude(handed_over_at=None):
        reports_say_what_happened(handover)
    call_command("check_ledger")  # fails where ledger and pages differ
    with pytest.raises(NotEmpty):
        load_demo()
