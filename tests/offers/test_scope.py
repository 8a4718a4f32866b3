"""The scope of an instrument: hand-worked cases on a catalogue whose prices are easily added up.

Prices: receive 20 (every job), plate out 200 with plate in 100, crack 80, block 400, file 40, hammers 300,
leg 60. Worth (weights 5 3 3 1 2): crack 2/4 × 3/14 = 10.7; block 3/4 × 5/14 = 26.8; hammers 2/4 × 4/14 =
14.3, filed half.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shopflow.common.refusals import Refused
from shopflow.instruments.models import Finding
from shopflow.offers.models import Scope
from shopflow.offers.selectors.scope import TooLittle, Weighing, Wishes, WishesClash, answer, asked, choices
from shopflow.offers.services.drafting import draft
from shopflow.offers.services.scopes import keep_scope
from shopflow.people.access import NotAllowed
from tests import cast

from .scope_cast import Upright

pytestmark = pytest.mark.django_db


def scope(there: Upright, budget: int | str, *, insist: tuple[str, ...] = (), refuse: tuple[str, ...] = ()):
    wishes = Wishes(insist, refuse)
    return answer(asked(Weighing.of(there.instrument), wishes), wishes, Decimal(budget))


def names(found) -> set[str]:
    return {one.remedy.name for one in found.mended}


def test_what_is_opened_and_closed_is_paid_once():
    there = Upright("crack", "block")
    found = scope(there, 800)
    assert (found.price, names(found)) == (800, {"do crack", "do block"})  # 20 + 200 + 100 + 80 + 400
    assert (found.cost, found.hours) == (400, 40)
    assert found.room == 0


def test_a_budget_below_both_takes_the_worthier_and_names_the_next_step():
    there = Upright("crack", "block")
    found = scope(there, 790)
    assert (found.price, names(found)) == (720, {"do block"})
    step = found.step
    assert (step.extra, step.price) == (10, 800)
    assert [one.remedy.name for one in step.comes] == ["do crack"]
    assert [one.code for one in step.because] == ["plate-out"]


def test_the_most_for_its_money_on_top_of_all_that_is_in():
    there = Upright("crack", "block", "hammers")
    plus = scope(there, 720).plus  # crack: 10.7 for 80; hammers, filed: 7.1 for 40
    assert (plus.one.found.name, plus.extra, plus.price) == ("hammers worn", 40, 760)
    plus = scope(there, 760).plus
    assert (plus.one.found.name, plus.extra) == ("crack worn", 80)
    assert [one.code for one in plus.because] == ["plate-out"]
    assert scope(there, 5000).plus is None


def test_what_is_left_by_wish_is_never_named_as_the_most_for_its_money():
    there = Upright("crack", "block", "hammers")
    plus = scope(there, 900, refuse=(str(there.findings["crack"].pk),)).plus
    assert plus is None or (plus.one.found.name, plus.extra > 0) == ("hammers worn", True)
    left = scope(there, 720, refuse=(str(there.findings["hammers"].pk),))
    assert left.plus.one.found.name == "crack worn"


def test_lighter_and_heavier_exclude_each_other():
    there = Upright("hammers")
    assert names(scope(there, 60)) == {"do file"}
    heavier = scope(there, 400)
    assert (names(heavier), heavier.price, heavier.step) == ({"do hammers"}, 320, None)
    step = scope(there, 60).step
    assert (step.comes, step.goes) == ([], [])
    assert [(one.before.name, one.after.name) for one in step.other_ways] == [("do file", "do hammers")]


def test_what_new_work_throws_away_is_not_also_worked_on_and_is_mended_by_the_way():
    there = Upright("hammers")
    there.findings["flat"] = there.find("flat")
    found = scope(there, 320)
    assert (names(found), found.price) == ({"do hammers", "do flat"}, 320)  # 20 + 300, and no filing
    work = next(work for work in found.benches[0].works if work.line.operation.code == "hammers")
    assert [one.found.name for one in work.cures] == ["hammers worn"]
    assert [one.found.name for one in work.by_the_way] == ["flat worn"]
    assert next(one for one in found.mended if one.comes_with).comes_with.code == "hammers"
    assert "file" not in {work.line.operation.code for work in found.benches[0].works}


def test_each_addition_says_why():
    why = {
        work.line.operation.code: work.why
        for bench in scope(Upright("crack"), 400).benches
        for work in bench.works
    }
    assert why["plate-out"] == ("“Crack” needs the plate out",)
    assert why["plate-in"] == ("after “Plate-out” no piano leaves without the plate in",)
    assert why["receive"] == ("no piano leaves without the house arrived",)


def test_one_operation_may_cure_two_findings_for_one_price():
    there = Upright("crack")
    there.findings["second"] = there.find("crack")
    found = scope(there, 400)
    assert (len(found.mended), found.price) == (2, 400)
    work = next(work for work in found.benches[0].works if work.line.operation.code == "crack")
    assert [one.found.number for one in work.cures] == [1, 2]


def test_what_no_money_reaches_is_left_with_what_it_means_now_and_later():
    there = Upright("crack", "block")
    left = scope(there, 790).left
    assert [one.one.found.name for one in left] == ["crack worn"]
    assert left[0].one.found.if_left == "The crack gets worse."
    assert (left[0].later.now, left[0].later.later) == (80, 400)


def test_cheap_only_now_is_what_rides_on_something_open():
    there = Upright("crack", "block", "hammers")
    rides = scope(there, 740).rides  # block is in; crack 80 now, 400 later; filing hammers is 40 whenever
    assert [(one.one.found.name, one.later.now) for one in rides] == [("crack worn", 80)]


def test_safety_comes_first_whatever_it_is_worth():
    there = Upright("leg", "block")
    assert names(scope(there, 100)) == {"do leg"}
    assert names(scope(there, 780)) == {"do leg", "do block"}


def test_money_below_the_safety_work_says_what_that_is_and_costs():
    there = Upright("leg", "block")
    with pytest.raises(TooLittle, match=r"At least £80 is needed .*1\. leg worn \(do leg\)") as caught:
        scope(there, 79)
    assert caught.value.needed == 80


def test_money_below_what_every_job_has_says_so():
    with pytest.raises(TooLittle, match=r"At least £20 .* in every job"):
        scope(Upright("crack"), 10)


def test_safety_cannot_be_left():
    there = Upright("leg")
    with pytest.raises(WishesClash, match="matter of safety"):
        scope(there, 500, refuse=(str(there.findings["leg"].pk),))


def test_a_finding_cannot_be_mended_and_left():
    there = Upright("crack")
    pk = str(there.findings["crack"].pk)
    with pytest.raises(WishesClash, match="crack worn is to be mended and to be left"):
        scope(there, 500, insist=(pk,), refuse=(pk,))


def test_what_the_customer_insists_on_is_in_by_the_remedy_that_was_named():
    there = Upright("crack", "block", "hammers")
    pk = str(there.findings["hammers"].pk)
    assert "do hammers" in names(scope(there, 340, insist=(there.choice("hammers", "hammers"),)))
    assert "do file" in names(scope(there, 60, insist=(pk,)))
    assert "do hammers" in names(scope(there, 1100, insist=(pk,)))


def test_what_the_customer_leaves_is_left_though_the_money_reaches():
    there = Upright("crack", "block")
    found = scope(there, 5000, refuse=(str(there.findings["block"].pk),))
    assert names(found) == {"do crack"}
    assert [(one.one.found.name, one.wish) for one in found.left] == [("block worn", "leave")]


def test_more_money_never_takes_away_less():
    there = Upright("crack", "block", "hammers", "leg")
    shares = [scope(there, money).share for money in (*range(80, 1160, 70), 1160)]
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(100, abs=0.5)


def test_the_picture_ends_where_all_that_helps_is_in():
    there = Upright("crack", "block", "leg")
    steps = asked(Weighing.of(there.instrument), Wishes()).outline(200)
    assert [price for price, _ in steps] == [80, 460, 780, 860]
    assert [worth for _, worth in steps] == sorted(worth for _, worth in steps)


def test_a_picture_with_few_steps_keeps_both_ends():
    there = Upright("leg", "crack", "block", "hammers")
    question = asked(Weighing.of(there.instrument), Wishes())
    whole, few = question.outline(200), question.outline(4)
    assert len(few) <= 4 < len(whole)
    assert (few[0], few[-1]) == (whole[0], whole[-1])
    assert set(few) <= set(whole)
    assert whole[0][0] == 80  # What every job has, and the leg.


def test_mended_and_own_words_are_not_weighed():
    there = Upright("crack", "block")
    Finding.objects.filter(pk=there.findings["crack"].pk).update(state=Finding.State.MENDED)
    Finding.objects.filter(pk=there.findings["block"].pk).update(kind=None)
    weighing = Weighing.of(there.instrument)
    assert weighing.mendable == []
    assert [one.found.name for one in weighing.beyond_the_library] == ["block worn"]


def test_the_price_is_that_of_the_offer_made_of_it():
    there = Upright("crack", "block", "hammers")
    kept = keep_scope(instrument=there.instrument, budget=Decimal(790), wishes=Wishes(), by=there.by)
    option = draft(instrument=there.instrument, levels=[], scopes=[kept], by=there.by).options.get()
    found = scope(there, 790)
    assert (option.price, option.cost, option.hours) == (found.price, found.cost, found.hours)
    assert {row.remedy.name for row in option.findings.exclude(remedy=None)} == names(found)


def test_only_the_office_keeps_a_scope():
    there = Upright("crack")
    for who in (cast.stranger(), cast.finisher(home=there.bench)):
        with pytest.raises(NotAllowed):
            keep_scope(instrument=there.instrument, budget=Decimal(500), wishes=Wishes(), by=who)
    assert not Scope.objects.exists()


def test_the_same_scope_kept_twice_is_one():
    there = Upright("crack")
    wishes = Wishes(insist=(str(there.findings["crack"].pk),))
    first, second = (
        keep_scope(instrument=there.instrument, budget=Decimal(500), wishes=wishes, name="plain", by=there.by)
        for _ in range(2)
    )
    assert first == second == Scope.objects.get()
    assert (first.chosen, first.wishes) == (
        [there.choice("crack")],
        {"insist": [str(there.findings["crack"].pk)], "refuse": []},
    )


def test_queries_do_not_grow_with_the_findings():
    there = Upright("crack", "block")

    def count() -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            scope(there, 900)
        return len(seen)

    count()  # What is known of the work is read for the first time, and kept.
    few = count()
    for _ in range(5):
        there.find("hammers")
        there.find("leg")
    assert count() == few
    assert few == 11


def test_more_than_can_be_weighed_is_said_and_breaks_nothing(monkeypatch):
    there = Upright("crack", "block")
    monkeypatch.setattr("shopflow.compute.scope.choices.MOST_CHOICES", 5)
    choices._question.cache_clear()  # Thought through by another test already.
    with pytest.raises(Refused, match=r"cannot be weighed: choices: got '10 entries'"):
        scope(there, 900)
