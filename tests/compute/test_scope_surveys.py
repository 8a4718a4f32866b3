"""Whole surveys: shared operations, pairs that exclude each other, repairs that need repairs, and wishes."""

from contextlib import suppress
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.compute.errors import ComputeError
from shopflow.compute.scope import Choice, ask, curve, fit
from shopflow.compute.scope import fitting as fitting_module
from shopflow.compute.scope.ways import TooTangled
from tests.benchmarks.scope_speed import survey
from tests.compute import exact_scope

PLATE = {"plate out": 300, "pinblock": 900, "soundboard": 400, "hammers": 700}
WORTH = {"pinblock": 9, "soundboard": 5, "hammers": 6}
OPENED = {"pinblock": {"plate out"}, "soundboard": {"plate out"}}
GRAND = [Choice(name, Decimal(cost), WORTH.get(name, 0)) for name, cost in PLATE.items()]


def too_tangled(*_):
    raise TooTangled


def use(engine, monkeypatch):
    """Answers from the list of all efficient sets, or from the solver."""
    if engine == "solver":
        monkeypatch.setattr(fitting_module, "Listed", too_tangled)


@pytest.fixture(params=["listed", "solver"])
def engine(request, monkeypatch):
    use(request.param, monkeypatch)


def money_for(number, choices):
    return Decimal(sum(each.cost for each in choices) * number // 6)


@pytest.mark.parametrize("strongly", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_a_survey_comes_out_as_from_another_exact_solver(engine, seed, strongly):
    choices, requires, exclusive, budget = survey(24, seed, strongly=strongly)
    choices = [Choice(each.id, each.cost, round(each.benefit * 2)) for each in choices]
    found = ask(choices, requires, exclusive).fit(budget)
    assert (found.benefit, found.cost) == exact_scope.best(choices, budget, requires, exclusive)
    assert found.is_proven
    assert found.next_step.cost == exact_scope.cheapest(choices, int(found.benefit) + 1, requires, exclusive)
    assert found.next_step.extra == found.next_step.cost - budget


@pytest.mark.parametrize("seed", range(3))
def test_the_list_and_the_solver_choose_the_same_sets(seed, monkeypatch):
    choices, requires, exclusive, budget = survey(20, seed)
    alike = [Choice(each.id, each.cost // 100, each.benefit and each.benefit // 20 + 1) for each in choices]
    listed = ask(alike, requires, exclusive).fit(budget // 100)
    use("solver", monkeypatch)
    assert ask(alike, requires, exclusive).fit(budget // 100) == listed


def test_among_equals_the_cheapest_and_then_what_came_first(engine):
    same = [Choice("dear", Decimal(20), 3), Choice("first", Decimal(10), 3), Choice("second", Decimal(10), 3)]
    assert fit(same, Decimal(25), {}, []).chosen == ("first", "second")
    assert fit(same, Decimal(20), {}, [{"first", "second"}]).chosen == ("first",)


def test_a_shared_operation_is_paid_once_and_only_if_something_needs_it(engine):
    found = ask(GRAND, OPENED, []).fit(Decimal(1600))
    assert (found.chosen, found.cost) == (("plate out", "pinblock", "soundboard"), Decimal(1600))
    assert fit(GRAND, Decimal(900), OPENED, []).chosen == ("hammers",)
    assert fit(GRAND, Decimal(299), OPENED, []).chosen == ()


def test_the_next_step_tells_what_comes_in_and_what_goes_out(engine):
    step = fit(GRAND, Decimal(900), OPENED, []).next_step
    assert (step.extra, step.cost, step.benefit) == (Decimal(300), Decimal(1200), 9)
    assert (step.comes_in, step.goes_out) == (("plate out", "pinblock"), ("hammers",))
    assert fit(GRAND, Decimal(9_000), OPENED, []).next_step is None


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 6), st.integers(0, 400), st.data())
def test_every_scope_keeps_the_rules_and_more_money_never_buys_less(seed, sixths, more, data):
    choices, requires, exclusive, _ = survey(18, seed)
    ids = [each.id for each in choices]
    refuse = data.draw(st.sets(st.sampled_from(ids), max_size=3))
    budget = money_for(sixths, choices)
    question = ask(choices, requires, exclusive, refuse=refuse)
    found, richer = question.fit(budget), question.fit(budget + more)
    assert richer.benefit >= found.benefit
    chosen = set(found.chosen)
    assert all(requires.get(id, set()) <= chosen for id in chosen)
    assert all(len(group & chosen) < 2 for group in exclusive)
    assert not chosen & refuse
    assert found.cost == sum(each.cost for each in choices if each.id in chosen) == budget - found.room
    assert found == fit(choices, budget, requires, exclusive, refuse=refuse)
    step = found.next_step
    if step:
        assert question.fit(step.cost).benefit == step.benefit > found.benefit
        assert question.fit(step.cost - Decimal("0.01")).benefit == found.benefit


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 10_000), st.data())
def test_work_insisted_on_is_in_whatever_it_costs_elsewhere(seed, data):
    choices, requires, exclusive, budget = survey(18, seed)
    insisted = data.draw(st.sampled_from([each.id for each in choices]))
    free = fit(choices, budget, requires, exclusive)
    with suppress(ComputeError):  # Too dear, or it needs both of a pair that excludes each other.
        found = fit(choices, budget, requires, exclusive, insist=[insisted])
        assert insisted in found.chosen
        assert found.benefit <= free.benefit
        assert insisted not in free.chosen or found.chosen == free.chosen


def test_money_below_the_work_insisted_on_names_it_and_its_price():
    with pytest.raises(ComputeError, match=r"at least 1,200\.00.*plate out, pinblock"):
        fit(GRAND, Decimal(1199), OPENED, [], insist=["pinblock"])


def test_wishes_against_each_other_are_named():
    with pytest.raises(ComputeError, match="does not require 'plate out'"):
        fit(GRAND, Decimal(5000), OPENED, [], insist=["pinblock"], refuse=["plate out"])
    with pytest.raises(ComputeError, match="exclude each other"):
        fit(GRAND, Decimal(5000), OPENED, [{"pinblock", "soundboard"}], insist=["pinblock", "soundboard"])


def test_the_outline_is_the_curve_without_its_sets(engine):
    choices, requires, exclusive, _ = survey(8, 1)
    whole = curve(choices, requires, exclusive, points=500)
    assert whole.is_whole
    outline = ask(choices, requires, exclusive).outline(points=500)
    assert len(outline) in (len(whole.points), 24)  # The solver draws fewer points.
    by_cost = {point.cost: point.benefit for point in whole.points}
    assert all(benefit == pytest.approx(by_cost[cost]) for cost, benefit in outline)


def test_a_curve_with_fewer_points_says_so_and_keeps_both_ends():
    choices, requires, exclusive, _ = survey(30, 2)
    whole = curve(choices, requires, exclusive, points=500)
    few = curve(choices, requires, exclusive, points=5)
    assert not few.is_whole
    assert len(few.points) <= 5
    assert (few.points[0], few.points[-1]) == (whole.points[0], whole.points[-1])
    assert set(few.points) <= set(whole.points)


@pytest.mark.parametrize(
    "budget", [Decimal(-3), Decimal("1e400"), Decimal("NaN"), Decimal("0.005"), 12.5, "1,5"]
)
def test_money_that_makes_no_sense_is_refused_with_what_is_allowed(budget):
    with pytest.raises(ComputeError, match=r"budget: got .*; allowed is a Decimal of whole cents"):
        fit(GRAND, budget, OPENED, [])


def test_a_long_chain_of_requirements_is_no_harder_than_its_length():
    chain = [Choice(str(number), Decimal(1), 1) for number in range(400)]
    needs = {str(number): {str(number - 1)} for number in range(1, 400)}
    found = fit(chain, Decimal(250), needs, [])
    assert (found.benefit, found.is_proven, found.next_step.extra) == (250, True, 1)


def test_a_scope_of_eighty_repairs_is_listed_whole():
    choices, requires, exclusive, budget = survey(80, 0)
    question = ask(choices, requires, exclusive)
    assert question.listed
    assert question.fit(budget) == fit(choices, budget, requires, exclusive)
