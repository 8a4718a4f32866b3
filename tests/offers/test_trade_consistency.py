"""With the trade's catalogue: whatever was found, nothing on offer contradicts itself or stays open."""

from __future__ import annotations

import random
from contextlib import suppress
from dataclasses import dataclass
from decimal import Decimal

from django.test import TestCase

from shopflow.catalogue.knowledge import knowledge
from shopflow.catalogue.models import FindingKind, Operation, Remedy, Route, Terms
from shopflow.catalogue.services.trade import load_trade
from shopflow.compute.errors import ComputeError
from shopflow.instruments.models import Finding, Instrument, Survey
from shopflow.instruments.selectors.safety import is_unsafe
from shopflow.offers.models import Option
from shopflow.offers.selectors.extra import JobUnderWay
from shopflow.offers.selectors.objections import words_against
from shopflow.offers.selectors.prices import prices_for
from shopflow.offers.selectors.remedies import with_work
from shopflow.offers.selectors.scope import TooLittle, Weighing, Wishes, answer, asked
from shopflow.offers.services.drafting import USUAL, Bench
from tests import cast


@dataclass
class StayToldOf:
    """What was done and what is open, as a stay tells it."""

    done: tuple[str, ...]
    todo: tuple[str, ...]


class Trade(TestCase):
    @classmethod
    def setUpTestData(cls):
        cast.shop()
        load_trade()
        Terms.objects.update_or_create(pk=1, defaults={"margin_percent": 25, "round_to": 10})
        cls.by = cast.manager()
        cls.pianos = {
            kind: cast.instrument(by=cls.by, number=str(number), kind=kind)
            for number, kind in enumerate(("upright", "grand"), 600)
        }

    def surveyed(self, kind: str, seed: int, many: int) -> Instrument:
        piano = self.pianos[kind]
        Finding.objects.filter(instrument=piano).delete()
        survey, _ = Survey.objects.get_or_create(instrument=piano, number=1, defaults={"by": self.by})
        kinds = list(FindingKind.objects.filter(only_for__in=("", kind)).order_by("code"))
        dice = random.Random(seed)
        for place, one in enumerate(dice.sample(kinds, many), 1):
            Finding.objects.create(
                survey=survey, instrument=piano, group=one.group, kind=one, number=place, name=one.name,
                severity=dice.choice((1, 2, 2, 3, 4)), by=self.by,
            )  # fmt: skip
        return piano


class WaysTests(Trade):
    def test_the_four_ways_are_whole_and_free_of_contradictions(self):
        for kind in ("upright", "grand"):
            for seed in range(6):
                bench = Bench.of(self.surveyed(kind, seed, 4 + 4 * seed))
                for level in sorted(USUAL):
                    with self.subTest(kind=kind, seed=seed, level=level):
                        self.check(bench, level)

    def check(self, bench: Bench, level: str) -> None:
        way, reckoner = bench.way(level), bench.reckoner
        assert list(words_against(reckoner.knowledge, way.whole)) == []
        again = reckoner.job(way.remedies.values(), way.added)
        assert list(words_against(reckoner.knowledge, again.codes)) == []
        assert again.price >= again.cost > 0
        for one in bench.found:
            left = one.pk not in way.remedies
            assert not (left and is_unsafe(one) and bench.remedies.get(one.pk)), one.name
        assert ("Safe and playable" in way.words) <= all(
            one.pk in way.remedies for one in bench.found if is_unsafe(one)
        )
        if level == Option.Level.KEEP_GOING:
            stopped = [one for one in bench.found if one.severity > 1 and one.kind and one.kind.stops]
            assert all(one.pk in way.remedies for one in stopped if bench.remedies.get(one.pk))
            assert way.whole & {"tune-once", "shop-tune"}


class ScopeTests(Trade):
    def test_every_scope_is_whole_proven_and_more_money_never_buys_less(self):
        for kind in ("upright", "grand"):
            for seed in range(3):
                question = asked(Weighing.of(self.surveyed(kind, seed, 10 + 10 * seed)), Wishes())
                share = -1.0
                for money in (1_000, 3_000, 6_000, 12_000, 25_000):
                    with self.subTest(kind=kind, seed=seed, money=money):
                        share = self.check(question, money, share)

    def check(self, question, money: int, before: float) -> float:
        try:
            found = answer(question, Wishes(), Decimal(money))
        except TooLittle:
            return before
        assert found.is_proven
        assert found.price <= money
        assert found.price >= found.cost
        assert found.share >= before
        assert list(words_against(question.weighing.knowledge, found.work)) == []
        return found.share


class ChangeTests(Trade):
    def test_what_a_change_adds_makes_the_job_whole_at_any_moment(self):
        dice = random.Random(1)
        for kind in ("upright", "grand"):
            known = knowledge(kind)
            remedies = list(with_work(Remedy.objects.filter(only_for__in=("", kind))).order_by("code"))
            for number in range(40):
                job, done = self.under_way(kind, known, dice, remedies)
                remedy = dice.choice(remedies)
                with self.subTest(kind=kind, number=number, remedy=remedy.code):
                    change, extra = job.change(remedy), job.now(remedy)
                    if change is None or extra is None:
                        continue
                    whole = set(job.stay.todo) - change.away | change.added
                    assert known.unmet(whole, known.replay(done)) == ()
                    assert known.clashes(whole) == ()
                    assert extra.price >= extra.cost
                    assert extra.least <= extra.cost

    def under_way(self, kind, known, dice, remedies) -> tuple[JobUnderWay, tuple[str, ...]]:
        whole: tuple[str, ...] = ()
        while not whole:
            asked_for = [one.code for remedy in dice.sample(remedies, 4) for one in remedy.operations.all()]
            with suppress(ComputeError):  # What contradicts itself is no job.
                whole = known.complete([code for code in asked_for if code in known.codes]).operations
        line = in_line(known, whole)
        moment = dice.randrange(len(line))
        stay = StayToldOf(tuple(line[:moment]), tuple(line[moment:]))
        return self.job(kind, stay), stay.done

    def job(self, kind: str, stay: StayToldOf) -> JobUnderWay:
        rows = list(Operation.objects.select_related("department"))
        by_code = {one.code: one for one in rows}
        return JobUnderWay(
            self.pianos[kind],
            prices_for(kind, rows),
            knowledge(kind),
            stay,
            by_code,  # type: ignore[arg-type]
        )

    def test_bridges_repinned_in_a_finished_restrung_grand_bring_new_wire_and_its_tunings(self):
        known = knowledge("grand")
        route = Route.objects.get(code="A")
        codes = route.steps.order_by("position").values_list("operation__code", flat=True)
        line = in_line(known, known.complete([code for code in codes if code in known.codes]).operations)
        before = line.index("final-check") if "final-check" in line else len(line) - 1
        job = self.job("grand", StayToldOf(tuple(line[:before]), tuple(line[before:])))
        remedy = with_work(Remedy.objects.all()).get(code="BR1-bridge-repin")
        extra = job.now(remedy)
        added = {one.code for one in extra.operations}
        assert {"bridge-repin", "strings-off", "string-treble", "chip", "settle-tune", "shop-tune"} <= added
        assert {"string-treble", "chip"} <= extra.again
        assert 4_000 < extra.price < 6_500
        assert extra.reasons["string-treble"]


def in_line(known, codes) -> list[str]:
    """An order in which this work may be done."""
    ties = known.order(codes)
    before = {code: {tie.before for tie in ties if tie.after == code} for code in codes}
    line: list[str] = []
    while len(line) < len(before):
        line += sorted(code for code in before if code not in line and before[code] <= set(line))
    return line
