"""Whole jobs on the real catalogue: surveyed, sold, surprised, worked off at the benches, and judged.

Each piano goes one of the usual ways and meets one surprise at another moment. A piano played step by step,
which shares no rule with the shop, judges the ledger.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache

import pytest
from django.test import TestCase
from django.utils import timezone

from shopflow.catalogue.models import FindingKind, Kind, Stage
from shopflow.catalogue.services import load_trade
from shopflow.common import clock
from shopflow.instruments.models import Finding, Instrument, Survey
from shopflow.offers.models import ChangeChoice, ChangeOrder, Offer
from shopflow.offers.services import answers, approving, changes, drafting, sending
from shopflow.people.models import Role
from shopflow.workshop.models import Move, Task
from shopflow.workshop.services import moves, order
from tests import cast
from tests.catalogue_data import data_from_fixtures
from tests.compute.step_machine import StepMachine

MONDAY = datetime(2026, 3, 2, 9, tzinfo=timezone.get_default_timezone())


@dataclass(frozen=True)
class Story:
    """A piano, what its survey found, the way its owner chose, and what came to light when."""

    kind: str
    findings: dict[str, int]
    level: str
    moment: str
    surprise: str
    severity: int = 3


STORIES = {
    "a grand is rebuilt, and a bridge splits when it is chipped": Story(
        Kind.GRAND,
        {"SB1": 3, "ST1": 3, "ST3": 3, "PB2": 3, "CA2": 3, "AC7": 3, "DA2": 2, "AC11": 3},
        "rebuilt",
        "chip",
        "BR1",
    ),
    "an upright is put in good order, and its block fails after the second look": Story(
        Kind.UPRIGHT, {"AC11": 2, "KE1": 2, "ST4": 2, "CA2": 2}, "good-order", "action-out", "PB2"
    ),
    "an upright is kept going, and its straps are gone": Story(
        Kind.UPRIGHT, {"ST4": 3, "KE3": 3}, "keep-going", "receive", "AC6"
    ),
    "a grand gets its case done, and a leg gives way": Story(
        Kind.GRAND, {"CA2": 3, "CA1": 2, "HW1": 2}, "case-only", "strip", "CA3", 4
    ),
    "an upright is rebuilt, and ribs let go when it is put together": Story(
        Kind.UPRIGHT, {"ST1": 3, "ST3": 3, "AC6": 3, "CA2": 2, "DA2": 2}, "rebuilt", "assemble", "SB2"
    ),
    "a grand is put in good order, and hammers are worn when it is voiced": Story(
        Kind.GRAND, {"AC11": 2, "ST4": 2, "KE1": 2, "SB6": 2}, "good-order", "shop-tune", "AC9"
    ),
    "a grand is kept going although its plate is cracked, and pins are loose": Story(
        Kind.GRAND, {"PL1": 4, "ST4": 2, "AC11": 2}, "keep-going", "string-treble", "PB1"
    ),
}


@cache
def machine(kind: str) -> StepMachine:
    return StepMachine(data_from_fixtures(), kind)


@pytest.mark.slow
class FromSurveyToHandoverTests(TestCase):
    @classmethod
    def setUpTestData(cls) -> None:
        cast.shop(address="Harbour Road")
        load_trade()
        cls.office = cast.manager()
        cls.hands = [cast.person(name, Role.MANAGER) for name in ("Greta Lund", "Odo Pell")]

    def _live(self, story: Story, number: str = "401") -> None:
        self.now = MONDAY
        with clock.at(self.now):
            piano = self._surveyed(story, number)
            self._sold(piano, story)
        self._worked(piano, until=story.moment)
        self._agrees(piano)
        with clock.at(self.now):
            change = self._surprised(piano, story)
        self._agrees(piano)
        self._worked(piano)
        signed = self._signed(piano)
        looked_at = machine(story.kind).found() | {"house": "surveyed"}
        at_the_owners = [code for code in ("deliver",) if code not in signed]
        assert machine(story.kind).play([*signed, *at_the_owners], looked_at, dips=True) == []
        assert change.state == ChangeOrder.State.SETTLED
        piano.refresh_from_db()
        assert piano.finished_on is not None

    def _surveyed(self, story: Story, number: str) -> Instrument:
        owner = cast.customer(email=f"owner-{number}@private.example")
        piano = cast.instrument(
            by=self.office, number=number, kind=story.kind, customer=owner, arrived=clock.today()
        )
        survey = Survey.objects.create(instrument=piano, number=1, by=self.office, finished_at=clock.now())
        for place, (code, severity) in enumerate(story.findings.items(), 1):
            self._finding(survey, code, severity, place)
        return piano

    def _finding(self, survey: Survey, code: str, severity: int, number: int) -> Finding:
        kind = FindingKind.objects.get(code=code)
        return Finding.objects.create(
            survey=survey,
            instrument=survey.instrument,
            kind=kind,
            group=kind.group,
            number=number,
            name=kind.name,
            severity=severity,
            by=self.office,
            key=uuid.uuid4().hex,
        )

    def _sold(self, piano: Instrument, story: Story) -> Offer:
        offer = drafting.draft(instrument=piano, levels=[story.level], by=self.office)
        offer.refresh_from_db()
        sent = sending.send(offer=offer, seen_edition=offer.edition, by=self.office).offer
        option = sent.options.get()
        approving.enter_approval(
            offer=sent,
            option_id=option.pk,
            typed_name="Agnes Applegarth",
            fingerprint=sent.fingerprint,
            signed_on=clock.today(),
            by=self.office,
        )
        return sent

    def _surprised(self, piano: Instrument, story: Story) -> ChangeOrder:
        survey = Survey.objects.create(
            instrument=piano, number=2, by=self.office, occasion=Survey.Occasion.TEARDOWN
        )
        finding = self._finding(survey, story.surprise, story.severity, 90)
        change = changes.begin(finding=finding, by=self.office)
        change.why_hidden = "It was covered until now."
        change.save()
        change = changes.send(change=change, seen_edition=change.edition, by=self.office)
        choice = change.choices.exclude(kind=ChangeChoice.Kind.LEAVE).order_by("pk").first()
        assert choice is not None
        assert choice.price >= choice.cost
        answers.enter_answer(
            change=change,
            choice_id=choice.pk,
            typed_name="Agnes Applegarth",
            fingerprint=change.fingerprint,
            by=self.office,
        )
        change.refresh_from_db()
        return change

    def _worked(self, piano: Instrument, until: str = "") -> None:
        """Take what may be taken, by turns, until an operation is signed or nothing is open any more."""
        self.refused: dict[int, str] = {}
        while not (until and until in self._signed(piano)):
            rows = Task.objects.open().filter(instrument=piano, at_the_owners=False)
            open_tasks = list(rows.select_related("instrument", "department", "stage", "operation"))
            if not open_tasks:
                return
            if not [task for task in self._free(open_tasks) if self._goes_on(task)]:
                rests = [task.earliest_touch for task in open_tasks if task.earliest_touch]
                later = [moment for moment in rests if moment > self.now]
                assert later, f"{piano} is stuck: {self._stuck(piano)}"
                self.now = min(later)
            self.now += timedelta(minutes=20)

    def _goes_on(self, task: Task) -> bool:
        """Whether anybody can take this task one stage on; the final check passes without its proof."""
        path = list(task.path)
        is_check = task.operation is not None and task.operation.code == "final-check"
        past = {"override": True, "reason": "photos are in the album"} if is_check else {}
        for hand in self.hands:
            with clock.at(self.now):
                given = moves.move_task(
                    task_id=task.pk,
                    to_stage_id=path[path.index(task.stage_id) + 1],
                    seen_stage_id=task.stage_id,
                    by=hand,
                    tap=cast.tap(hand),
                    **past,
                )
            if given.status == 200:
                return True
            self.refused[task.pk] = str(given.said)
        return False

    def _free(self, tasks: list[Task]) -> list[Task]:
        """Those that the bench would show as free for somebody, and the final check, which asks for proof."""
        stages = {stage.pk: stage for stage in Stage.objects.all()}
        with clock.at(self.now):
            facts = order.read_facts(tasks)
        free = []
        for task in tasks:
            following = stages[task.path[list(task.path).index(task.stage_id) + 1]]
            step = order.Step(task, following, stages, 0)
            sorts = {hindrance.sort for hindrance in order.hindrances(step, facts)}
            if sorts <= {order.Sort.PROOF}:
                free.append(task)
        return free

    def _agrees(self, piano: Instrument) -> None:
        """Nothing of the open work contradicts other open work."""
        rows = Task.objects.open().filter(instrument=piano).exclude(operation=None)
        codes = set(rows.values_list("operation__code", flat=True))
        assert machine(piano.kind).contradictions(codes, data_from_fixtures()["parts"]) == []

    def _stuck(self, piano: Instrument) -> list[str]:
        return [
            f"{task.name} at {task.stage}: {self.refused.get(task.pk)}"
            for task in Task.objects.open().filter(instrument=piano).select_related("stage")
        ]

    def _signed(self, piano: Instrument) -> list[str]:
        lines = Move.objects.filter(
            task__instrument=piano, target__kind=Stage.Kind.SIGNED, task__stage__kind=Stage.Kind.SIGNED
        ).order_by("pk")
        return list(lines.exclude(task__operation=None).values_list("task__operation__code", flat=True))


def _as_test(story: Story) -> Callable[[FromSurveyToHandoverTests], None]:
    return lambda case: case._live(story)


for _title, _story in STORIES.items():
    setattr(FromSurveyToHandoverTests, "test_" + re.sub(r"\W+", "_", _title), _as_test(_story))


def test_the_stories_name_what_the_catalogue_knows() -> None:
    data = data_from_fixtures()
    for story in STORIES.values():
        assert {*story.findings, story.surprise} <= set(data["findings"])
        assert story.moment in data["operations"]
