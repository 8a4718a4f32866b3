"""Rules with several heads and bodies: every small case by trying all sets; work that serves other work."""

from decimal import Decimal
from itertools import combinations

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shopflow.compute.errors import ComputeError
from shopflow.compute.scope import Choice, ask, curve, fit
from shopflow.compute.scope import fitting as fitting_module
from shopflow.compute.scope.ways import TooTangled
from tests.benchmarks.scope_speed import bench_of_rules

IDS = [str(number) for number in range(7)]
few = st.sets(st.sampled_from(IDS), max_size=2)
rules_of_any_kind = st.lists(st.tuples(few, st.sets(st.sampled_from(IDS), max_size=3)), max_size=7)
costs_and_worths = st.lists(st.tuples(st.integers(0, 5), st.integers(0, 4)), min_size=7, max_size=7)
pairs = st.lists(st.sets(st.sampled_from(IDS), min_size=2, max_size=3), max_size=2)


def too_tangled(*_):
    raise TooTangled


@pytest.fixture(params=["listed", "solver"])
def engine(request, monkeypatch):
    if request.param == "solver":
        monkeypatch.setattr(fitting_module, "Listed", too_tangled)


def keeps(taken, rules, exclusive):
    return all(not set(body) <= taken or set(heads) & taken for body, heads in rules) and all(
        len(set(group) & taken) < 2 for group in exclusive
    )


def all_sets(choices, rules, exclusive):
    ids = [each.id for each in choices]
    every = (set(some) for many in range(len(ids) + 1) for some in combinations(ids, many))
    return [taken for taken in every if keeps(taken, rules, exclusive)]


def sums(taken, choices):
    inside = [each for each in choices if each.id in taken]
    return sum(int(each.cost) for each in inside), sum(int(each.benefit) for each in inside)


@settings(max_examples=150, deadline=None)
@given(costs_and_worths, rules_of_any_kind, pairs, st.integers(0, 25))
def test_no_set_that_keeps_the_rules_is_better_and_the_curve_has_every_step(figures, rules, apart, budget):
    choices = [Choice(id, Decimal(cost), worth) for id, (cost, worth) in zip(IDS, figures, strict=True)]
    allowed = [sums(taken, choices) for taken in all_sets(choices, rules, apart)]
    if not allowed:
        with pytest.raises(ComputeError, match="one set can keep together"):
            ask(choices, {}, apart, rules=rules).least()
        return
    assume(min(allowed)[0] <= budget)
    found = fit(choices, Decimal(budget), {}, apart, rules=rules)
    worth = max(worth for cost, worth in allowed if cost <= budget)
    assert (found.benefit, found.is_proven) == (worth, True)
    assert found.cost == min(cost for cost, other in allowed if other == worth)
    assert keeps(set(found.chosen), rules, apart)
    better = [cost for cost, other in allowed if other > worth]
    assert (found.next_step and found.next_step.cost) == (min(better) if better else None)
    steps = [
        (point.cost, point.benefit) for point in curve(choices, {}, apart, rules=rules, points=200).points
    ]
    assert steps == sorted(
        {(c, w) for c, w in allowed if not any(a <= c and b >= w and (a, b) != (c, w) for a, b in allowed)}
    )


@settings(max_examples=40, deadline=None)
@given(costs_and_worths, rules_of_any_kind, pairs)
def test_the_solver_prefers_the_very_set_that_the_list_prefers(figures, rules, apart):
    choices = [Choice(id, Decimal(cost), worth) for id, (cost, worth) in zip(IDS, figures, strict=True)]
    question = ask(choices, {}, apart, rules=rules)
    assume(question.listed is not None and len(question.listed))
    least = question.listed.least()
    assert question.scales.least() == least
    best = question.listed.best(least.cost + 4)
    assert question.scales.best(least.cost + 4) == best
    assert question.scales.above(best) == question.listed.above(best)


@settings(max_examples=30, deadline=None)
@given(costs_and_worths, rules_of_any_kind, pairs)
def test_nothing_is_opened_for_nothing(figures, rules, apart):
    choices = [Choice(id, Decimal(cost), worth) for id, (cost, worth) in zip(IDS, figures, strict=True)]
    question = ask(choices, {}, apart, rules=rules)
    assume(question.listed is not None and len(question.listed))
    for point in question.curve(200).points:
        for id in point.chosen:
            worthless = not choices[IDS.index(id)].benefit
            assert not (worthless and keeps(set(point.chosen) - {id}, rules, apart))


STRINGS = [
    Choice("clean them", Decimal(0), 3),
    Choice("new ones", Decimal(0), 9),
    Choice("revive", Decimal(200)),
    Choice("wire", Decimal(700)),
    Choice("strings off", Decimal(300)),
    Choice("let down", Decimal(100)),
    Choice("new block", Decimal(0), 8),
    Choice("block", Decimal(900)),
]
WIRE = [
    ({"clean them"}, {"revive", "wire"}),
    ({"new ones"}, {"wire"}),
    ({"revive"}, {"let down", "strings off"}),
    ({"wire"}, {"strings off"}),
    ({"strings off"}, {"wire"}),
    ({"new block"}, {"block"}),
    ({"block"}, {"strings off"}),
]
APART = [{"clean them", "new ones"}, {"revive", "wire"}]


@pytest.mark.usefixtures("engine")
def test_the_lightest_opening_that_is_enough_is_taken():
    found = ask(STRINGS, {}, APART, rules=WIRE).fit(Decimal(400))
    assert (found.chosen, found.cost) == (("clean them", "revive", "let down"), 300)


@pytest.mark.usefixtures("engine")
def test_what_is_renewed_by_the_way_counts_by_its_best_remedy_and_is_never_kept_old():
    found = ask(STRINGS, {}, APART, rules=WIRE, insist=["new block"]).fit(Decimal(1900))
    assert set(found.chosen) == {"new ones", "wire", "strings off", "new block", "block"}
    assert found.benefit == 17


@pytest.mark.usefixtures("engine")
def test_money_below_what_must_be_names_it():
    asked = ask(STRINGS, {}, APART, rules=[*WIRE, ((), {"clean them", "new ones"})])
    assert (asked.least().cost, asked.fit(Decimal(300)).chosen) == (300, asked.least().chosen)
    with pytest.raises(ComputeError, match=r"at least 300\.00"):
        asked.fit(Decimal(299))


@pytest.mark.parametrize("repairs", [20, 80])
def test_more_money_never_buys_less_nor_a_worse_part_where_a_better_one_is_paid_for(repairs):
    choices, rules, exclusive, remedies = bench_of_rules(repairs, seed=repairs)
    question = ask(choices, {}, exclusive, rules=rules)
    worth = {each.id: each.benefit for each in choices}
    before = -1.0
    for point in question.curve(60).points:
        chosen = set(point.chosen)
        assert point.benefit > before
        before = point.benefit
        assert keeps(chosen, rules, exclusive)
        for group in remedies:
            there = max((worth[id] for id in chosen & set(group)), default=0.0)
            for id in group:
                other = (chosen - set(group)) | {id}
                assert worth[id] <= there or not keeps(other, rules, exclusive)


@pytest.mark.parametrize("wrong", [[({"9"}, {"1"})], [({"1"}, {"9"})]])
def test_rules_about_what_is_not_among_the_choices_are_refused(wrong):
    choices = [Choice(id, Decimal(1), 1) for id in IDS]
    with pytest.raises(ComputeError, match="rules: got '9'"):
        ask(choices, {}, [], rules=wrong)
