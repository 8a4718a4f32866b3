"""How long work would take that is not laid out yet: on paper, among all the rest, and nothing is written."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from shopflow.catalogue.models import ComponentGroup, FindingKind, Remedy
from shopflow.common import clock, job_runs, jobs
from shopflow.common.models import Job
from shopflow.instruments.models import Finding, Instrument, Survey
from shopflow.offers.models import ChangeChoice, ChangeOrder, Offer, Option, OptionWork
from shopflow.planning.services.foresee import NewWork, foresee
from shopflow.planning.services.weeks import NOT_YET, tell_change, tell_offer
from shopflow.workshop.models import Task, TaskNeed
from tests import cast

from .crew_cast import MONDAY, hand

pytestmark = pytest.mark.django_db
TODAY = MONDAY.date()


@pytest.fixture(autouse=True)
def monday():
    with clock.at(MONDAY):
        yield


@pytest.fixture
def maud(db):
    cast.shop(hands_on_share="1.00")
    return cast.manager()


@pytest.fixture
def bench(maud):
    made = cast.department()
    hand("Finn Tarrow", made)
    return made


def hours(likely):
    """A little under, and a little over, on both kinds."""
    return {
        f"{kind}_{name}": value
        for kind in ("upright", "grand")
        for name, value in (("low", likely - 1), ("likely", likely), ("high", likely + 1))
    }


@pytest.fixture
def strip(bench):
    return cast.operation("strip", at=bench, **hours(40))


@pytest.fixture
def colour(bench, strip):
    made = cast.operation("colour", at=bench, **hours(40))
    cast.says(made, also=["strip"], after=["strip"])
    return made


@pytest.fixture
def piano(maud):
    return cast.instrument(by=maud, number="P1")


def ask(*operations, **given):
    (told,) = foresee([NewWork("upright", operations, **given)], now=MONDAY)
    return told


class TestOnPaper:
    def test_one_hand_takes_two_weeks_for_two_weeks_of_work(self, strip, colour):
        told = ask(strip, colour)
        assert told.weeks[1] == pytest.approx(1.7, abs=0.5)  # 10 working days end on a Friday
        assert told.p20 <= told.p50 <= told.p80
        assert told.p50 - TODAY < timedelta(days=18)
        assert "1 instruments" not in told.words
        assert told.words.startswith("by the house of Mon 30 Nov 2026: 0 instruments")

    def test_what_must_come_before_comes_before_whatever_the_order_given(self, strip, colour):
        assert ask(colour, strip) == ask(strip, colour)

    def test_the_house_it_comes_into_makes_it_later(self, strip, colour, maud):
        empty = ask(strip)
        for number in range(4):
            promised = TODAY + timedelta(weeks=2)
            cast.task(strip, on=cast.instrument(by=maud, number=f"H{number}", promised_on=promised), by=maud)
        full = ask(strip)
        assert full.weeks[1] > empty.weeks[1] + 2
        assert "4 instruments with open work" in full.words

    def test_hours_that_are_known_better_count_instead(self, strip):
        assert ask(strip, hours={strip.pk: 8}).weeks[1] < 0.5 < ask(strip).weeks[1]

    def test_it_does_not_begin_before_its_day(self, strip):
        told = ask(strip, not_before=date(2027, 1, 11))
        assert told.p20 >= date(2027, 1, 14)

    def test_nothing_of_it_is_written(self, strip, colour, piano):
        before = (Instrument.objects.count(), Task.objects.count(), TaskNeed.objects.count())
        ask(strip, colour)
        ask(strip, colour, on=piano)
        assert (Instrument.objects.count(), Task.objects.count(), TaskNeed.objects.count()) == before

    def test_what_is_begun_meanwhile_stands_beside_it(self, strip, bench, maud):
        sand = cast.operation("sand", at=bench, **hours(8))
        for number in range(26):
            with clock.at(MONDAY - timedelta(days=5 * number + 1)):
                finn = bench.home_of.get()
                cast.walk(cast.task(sand, on=cast.instrument(by=maud, number=f"F{number}"), by=maud), by=finn)
        told = ask(strip)
        assert told.weeks is not None
        assert "1.0 a week begun meanwhile" in told.words

    def test_the_same_question_gets_the_same_answer(self, strip, colour):
        assert ask(strip, colour) == ask(strip, colour)

    def test_a_bench_without_hands_is_named_instead_of_weeks(self, strip):
        plate = cast.operation("plate", at=cast.department("plating"))
        told = foresee([NewWork("upright", [plate]), NewWork("upright", [strip])], now=MONDAY)
        assert told[0].weeks is None
        assert "Plating has no hands" in told[0].words
        assert told[1].weeks is not None

    def test_work_that_is_only_done_at_the_owners_leaves_nothing_to_do(self, bench):
        visit = cast.operation("visit", at=bench, at_the_owners=True)
        told = ask(visit)
        assert (told.weeks, told.words) == (None, "Nothing is left to do.")


class TestBesideOpenWork:
    def test_what_is_laid_out_already_is_not_doubled(self, strip, colour, piano, maud):
        cast.task(strip, on=piano, by=maud)
        assert ask(strip, on=piano).weeks == ask(on=piano).weeks

    def test_more_work_takes_longer_and_waits_for_what_it_must(self, strip, colour, piano, maud):
        cast.task(strip, on=piano, by=maud)
        assert ask(colour, on=piano).weeks[1] > ask(on=piano).weeks[1] + 0.8

    def test_what_nobody_was_promised_yet_does_not_wait_behind_everybody(self, strip, colour, piano, maud):
        for number in range(6):
            far = TODAY + timedelta(weeks=40 + number)
            cast.task(strip, on=cast.instrument(by=maud, number=f"H{number}", promised_on=far), by=maud)
        cast.task(strip, on=piano, by=maud)
        assert ask(colour, on=piano).weeks[2] < 4
        piano.refresh_from_db()
        assert piano.promised_on is None

    def test_a_tie_by_hand_against_the_catalogue_makes_no_circle(self, bench, strip, colour, piano, maud):
        oil = cast.operation("oil", at=bench, **hours(8))
        cast.says(oil, also=["colour"], after=["colour"])
        first = cast.task(oil, on=piano, by=maud)
        cast.task(strip, on=piano, by=maud, needs=[first])
        assert ask(colour, on=piano).weeks is not None


@pytest.fixture
def offer(piano, maud, strip, colour):
    """Two ways: one week of work, and two."""
    made = Offer.objects.create(instrument=piano, version=1, made_by=maud)
    for place, row in enumerate([[strip], [strip, colour]]):
        option = Option.objects.create(offer=made, name=f"way {place}", price=100, position=place)
        for operation in row:
            OptionWork.objects.create(option=option, operation=operation, hours=40, cost=1, price=2)
    return made


class TestOffers:
    def test_every_way_gets_its_weeks_by_the_background(self, offer, maud):
        job = jobs.enqueue("foresee offer", by=maud, unique=str(offer.pk), offer_id=offer.pk)
        job_runs.run(job.pk)
        assert Job.objects.get(pk=job.pk).state == Job.State.DONE
        short, long = offer.options.all()
        assert 0 < short.weeks_low <= short.weeks_likely <= short.weeks_high
        assert long.weeks_likely > short.weeks_likely
        assert short.weeks_words == long.weeks_words == ""

    def test_told_twice_it_is_the_same(self, offer):
        tell_offer(offer.pk)
        first = list(offer.options.values())
        tell_offer(offer.pk)
        assert list(offer.options.values()) == first

    def test_what_was_sent_is_not_touched_any_more(self, offer):
        Offer.objects.filter(pk=offer.pk).update(state=Offer.State.SENT, fingerprint="f")
        tell_offer(offer.pk)
        assert not offer.options.exclude(weeks_low=None).exists()

    def test_one_that_was_changed_meanwhile_is_asked_about_again(self, offer, monkeypatch):
        from shopflow.planning.services import weeks

        asked = []

        def changes(works, **given):
            asked.append(len(works))
            if len(asked) == 1:
                Offer.objects.filter(pk=offer.pk).update(edition=2)
            return foresee(works, **given)

        monkeypatch.setattr(weeks, "foresee", changes)
        tell_offer(offer.pk)
        assert asked == [2, 2]
        assert not offer.options.filter(weeks_low=None).exists()

    def test_where_nothing_can_be_planned_the_customer_reads_words_and_no_reasons(self, offer):
        plate = cast.operation("plate", at=cast.department("plating"))
        OptionWork.objects.create(
            option=offer.options.first(), operation=plate, hours=4, cost=1, price=2, position=2
        )
        said = tell_offer(offer.pk)
        barred, free = offer.options.all()
        assert (barred.weeks_low, barred.weeks_words) == (None, NOT_YET)
        assert free.weeks_low is not None
        assert "Plating" in said["way 0"]

    def test_signed_work_takes_no_more_weeks(self, offer, strip, piano, maud, bench):
        tell_offer(offer.pk)
        before = offer.options.last().weeks_likely
        task = cast.task(strip, on=piano, by=maud)
        Task.objects.filter(pk=task.pk).update(stage_id=task.path[-1])
        tell_offer(offer.pk)
        assert offer.options.last().weeks_likely < before
        assert offer.options.first().weeks_likely is None


class TestChangeOrders:
    @pytest.fixture
    def change(self, piano, maud, strip, colour):
        cast.task(strip, on=piano, by=maud)
        group = ComponentGroup.objects.create(code="case", name="Case", position=1)
        kind = FindingKind.objects.create(code="crack", group=group, name="Crack")
        survey = Survey.objects.create(instrument=piano, number=1, by=maud)
        finding = Finding.objects.create(
            survey=survey,
            instrument=piano,
            group=group,
            kind=kind,
            number=1,
            name="Crack",
            by=maud,
            severity=3,
        )
        made = ChangeOrder.objects.create(
            instrument=piano, number=1, finding=finding, what="crack", why_hidden="under the veneer",
            decide_by=TODAY, policy="ask", made_by=maud,
        )  # fmt: skip
        remedy = Remedy.objects.create(code="colour-it", finding_kind=kind, name="colour it")
        remedy.operations.add(colour)
        ChangeChoice.objects.create(change=made, kind="do", remedy=remedy, words="colour it")
        ChangeChoice.objects.create(change=made, kind="leave", words="stays", days_low=0, days_high=0)
        return made

    def test_the_days_are_by_how_much_the_instrument_is_later(self, change, maud):
        job = jobs.enqueue("foresee change", by=maud, change=change.pk)
        job_runs.run(job.pk)
        do, leave = change.choices.all()
        # Forty hours of one hand are a week.
        assert 5 <= do.days_low <= do.days_high <= 9
        assert (leave.days_low, leave.days_high) == (0, 0)

    def test_days_that_somebody_typed_stand(self, change):
        change.choices.filter(kind="do").update(days_low=2, days_high=3)
        tell_change(change.pk)
        assert change.choices.get(kind="do").days_high == 3

    def test_what_was_sent_is_left_alone(self, change):
        ChangeOrder.objects.filter(pk=change.pk).update(state="sent", fingerprint="f")
        tell_change(change.pk)
        assert change.choices.get(kind="do").days_high is None
