"""Strings, keys and bearing of the demo: three scales, each with a proposal, two actions, three bellies."""

from __future__ import annotations

import random
from datetime import timedelta

from shopflow.catalogue.models import Kind, SheetKind, Stage
from shopflow.common import clock
from shopflow.compute.strings import FIGURES
from shopflow.instruments.models import Instrument
from shopflow.people.models import Person
from shopflow.readings.models import BenchSheet, Phase, StringScale
from shopflow.readings.regulating_defaults import SAMPLE_NOTES
from shopflow.readings.services import bearing, proposals, scale, touch
from shopflow.workshop.models import Task

from .drawn_scale import scale_as_found

WISHES = proposals.Wishes(
    plain_pull_n=715,
    highest_share=0.7,
    smoothness=4,
    whole_sizes=False,
    low_pull_n=1000,
    break_pull_n=800,
    highest_core_share=0.55,
    wrap_step_mm=0.01,
)
# Front and back of a worn board, in mm over 100 and 50 mm: the treble has nothing left.
BEARING = {"bass": (1.2, 0.6), "tenor": (0.9, 0.5), "treble": (0.3, 0.1), "high treble": (-0.2, 0.1)}
RENEWED = {"bass": (1.4, 0.7), "tenor": (1.3, 0.7), "treble": (1.2, 0.6), "high treble": (1.1, 0.6)}


def read_strings_and_keys(*, rng: random.Random, by: Person) -> None:
    """Through the real services, some weeks ago and today."""
    bellies = _pianos(SheetKind.SOUNDBOARD, 1)
    for place, piano in enumerate(dict.fromkeys([*bellies, *_pianos(SheetKind.STRINGS, 2)])):
        with clock.at(clock.now() - timedelta(days=40 - 9 * place)):
            _scale(piano, rng, by)
            _bearing(piano, BEARING, Phase.BEFORE, rng, by)
        if piano in bellies:
            _bearing(piano, RENEWED, Phase.AFTER, rng, by)
    for place, piano in enumerate(_pianos(SheetKind.ACTION, 2)):
        with clock.at(clock.now() - timedelta(days=25)):
            _weigh(piano, Phase.BEFORE, rng, by)
            _regulate(piano, Phase.BEFORE, rng, by)
        if place == 0:
            _weigh(piano, Phase.AFTER, rng, by)
            _regulate(piano, Phase.AFTER, rng, by)


def _pianos(kind: SheetKind, count: int) -> list[Instrument]:
    """Instruments in the house whose open work has such a sheet, those with one begun first."""
    mine = Task.objects.filter(operation__sheet=kind, dropped_at=None).exclude(stage__kind=Stage.Kind.SIGNED)
    found = Instrument.objects.filter(left_on=None, finished_on=None, pk__in=mine.values("instrument_id"))
    begun = set(BenchSheet.objects.filter(kind=kind).values_list("task__instrument_id", flat=True))
    return sorted(found.exclude(arrived_on=None), key=lambda one: (one.pk not in begun, one.number))[:count]


def _scale(piano: Instrument, rng: random.Random, by: Person) -> None:
    facts = {
        "kind": StringScale.Kind.FOUND,
        "name": "",
        "a4_hz": 440.0,
        "figure": FIGURES[0],
        "strength_mpa": None,
        "gauge": StringScale.Gauge.INCH,
    }
    found = scale.start_scale(instrument=piano, by=by, facts=facts)
    drafts = scale_as_found(rng, is_grand=piano.kind == Kind.GRAND)
    found = scale.put_table(scale=found, drafts=drafts, seen_version=found.version, by=by)
    proposals.propose(base=found, wishes=WISHES, name="even pull", by=by)


def _bearing(
    piano: Instrument, read: dict[str, tuple[float, float]], phase: str, rng: random.Random, by: Person
) -> None:
    for section, (front, back) in read.items():
        off = rng.uniform(-0.1, 0.1)
        bearing.read_bearing(
            instrument=piano, phase=phase, section=section, front_mm=round(front + off, 2),
            front_over_mm=100.0, back_mm=round(back + off / 2, 2), back_over_mm=50.0, by=by,
        )  # fmt: skip


def _weigh(piano: Instrument, phase: str, rng: random.Random, by: Person) -> None:
    """Heavy in the bass and stiff here and there before; even after."""
    spread = 4.0 if phase == Phase.BEFORE else 1.0
    for note in range(1, 89):
        balance = (43.0 if phase == Phase.BEFORE else 39.5) - note * 0.03
        friction = (15.0 if phase == Phase.BEFORE else 12.0) - note * 0.03
        balance += rng.uniform(-spread / 2, spread / 2)
        friction += rng.uniform(-spread / 2, spread / 2)
        if phase == Phase.BEFORE and note in (14, 37, 38, 61):
            friction += 8
        touch.weigh_key(
            instrument=piano, phase=phase, note=note, down_g=float(round(balance + friction)),
            up_g=float(round(balance - friction)), by=by,
        )  # fmt: skip


def _regulate(piano: Instrument, phase: str, rng: random.Random, by: Person) -> None:
    for value in touch.begin_values(instrument=piano, by=by):
        worn = 1.8 if phase == Phase.BEFORE else 0.5
        for note in SAMPLE_NOTES:
            off = rng.uniform(-value.tolerance_mm, value.tolerance_mm) * worn
            read = round(max(0.0, value.at_note(note) + off), 2)
            touch.read_sample(value=value, phase=phase, note=note, read_mm=read, by=by)
