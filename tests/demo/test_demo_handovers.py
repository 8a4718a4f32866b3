"""The demo's handover, of one piano whose route was signed: it says what that ledger proves."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest
from django.utils import timezone

from shopflow.catalogue.models import Route
from shopflow.catalogue.services import load_trade
from shopflow.common import clock
from shopflow.demo.handovers import hand_over_pianos
from shopflow.demo.photos import photograph_finished
from shopflow.instruments.models import Instrument
from shopflow.offers.models import Handover
from shopflow.workshop.models import Move, Task
from shopflow.workshop.services import layout, passages
from tests import cast

from .test_load_demo import reports_say_what_happened


def sign_all(piano: Instrument, by) -> None:
    """Every task before leaving, in its order, past what a bench would ask for."""
    at = clock.now()
    for task in Task.objects.before_leaving().filter(instrument=piano).order_by("position"):
        at += timedelta(minutes=20)
        signed = task.department.stages.get(pk=task.path[-1])
        for place, (origin, target) in enumerate(((task.path[0], task.path[1]), (task.path[1], signed.pk))):
            Move.objects.create(
                task=task,
                origin_id=origin,
                target_id=target,
                by=by,
                tapped_at=at,
                recorded_at=at,
                client="desk",
                key=f"{task.pk}-{place}",
            )
        Task.objects.filter(pk=task.pk).update(stage=signed, stage_since=at)
    with clock.at(at):
        check = Task.objects.get(instrument=piano, operation__code="final-check")
        photograph_finished(check=check, rng=random.Random(1), by=by)
        passages.settle(piano, by=by)


@pytest.mark.django_db
@pytest.mark.parametrize("kind", ["grand", "upright"])
def test_a_report_of_the_demo_says_what_happened(kind):
    cast.shop()
    load_trade()
    maud, crew = cast.manager(), [cast.person("Bea Cole"), cast.person("Ada Lund")]
    with clock.at(clock.now() - timedelta(days=90)):
        piano = cast.instrument(by=maud, kind=kind, number="214", customer=cast.customer())
        route = Route.objects.filter(kind=kind).order_by("position", "code").first()
        layout.start_route(instrument=piano, route=route, by=maud)
        sign_all(piano, maud)
        piano.refresh_from_db()
        assert piano.finished_on
    with clock.at(clock.now() - timedelta(days=20)):
        passages.let_leave(instrument=piano, by=maud)
    hand_over_pianos(rng=random.Random(1), zone=timezone.get_current_timezone(), by=maud, crew=crew)
    (given,) = Handover.objects.all()
    assert given.handed_over_at is not None
    assert given.frozen["sold"]["mends"]
    reports_say_what_happened(given)
