"""The demo, loaded whole: a newcomer's first minute must not fail."""

from __future__ import annotations

import pytest
from django.core.management import call_command

from shopflow.demo.services import NotEmpty, load_demo
from shopflow.instruments.models import Instrument, Survey
from shopflow.offers.models import ChangeOrder, Handover, Offer
from shopflow.readings.models import BenchSheet, Reading

pytestmark = [pytest.mark.django_db, pytest.mark.slow]


def states(model: type) -> set[str]:
    return set(model.objects.values_list("state", flat=True))


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
    call_command("check_ledger")  # fails where ledger and pages differ
    with pytest.raises(NotEmpty):
        load_demo()
