"""The best work for the money: published instances, every small case by trying all sets, and wishes."""

from decimal import Decimal
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.compute.errors import ComputeError
from shopflow.compute.scope import Choice, fit

# J. Burkardt, Florida State University, knapsack_01 data set, P01 to P03.
PUBLISHED = [
    ("23 31 29 44 53 38 63 85 89 82", "92 57 49 68 60 43 67 84 87 72", 165, 309, "1 2 3 4 6"),
    ("12 7 11 8 9", "24 13 23 15 16", 26, 51, "2 3 4"),
    ("56 59 80 64 75 17", "50 50 64 46 50 5", 190, 150, "1 2 5"),
]
# A programming contest's budget plan with main items and attachments (NOIP 2006, from memory).
ATTACHED = [(800, 1600), (400, 2000), (300, 1500), (400, 1200), (500, 1000)]


def listed(pairs):
    return [Choice(str(n), Decimal(cost), worth) for n, (cost, worth) in enumerate(pairs, 1)]


@pytest.mark.parametrize(("costs", "worths", "budget", "best", "items"), PUBLISHED)
def test_published_instances_come_out_as_printed(costs, worths, budget, best, items):
    pairs = zip(map(int, costs.split()), map(int, worths.split()), strict=True)
    found = fit(listed(pairs), Decimal(budget), {}, [])
    assert (found.benefit, found.chosen, found.is_proven) == (best, tuple(items.split()), True)


def test_what_a_repair_needs_is_paid_for():
    found = fit(listed(ATTACHED), Decimal(1000), {"2": {"1"}, "3": {"1"}}, [])
    assert (found.benefit, found.chosen, found.cost) == (2200, ("4", "5"), 900)
    assert fit(listed(ATTACHED), Decimal(1000), {}, []).benefit == 3500


small = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=1, max_size=5)


@settings(max_examples=25, deadline=None)
@given(small, st.data())
def test_no_set_is_better_and_the_next_step_is_the_smallest(pairs, data):
    ids = [str(n) for n in range(1, len(pairs) + 1)]
    needs = data.draw(st.dictionaries(st.sampled_from(ids), st.sets(st.sampled_from(ids), max_size=2)))
    apart = data.draw(st.lists(st.sets(st.sampled_from(ids), min_size=1, max_size=2), max_size=1))
    refused = data.draw(st.sets(st.sampled_from(ids), max_size=1))
    budget = data.draw(st.integers(0, 20))
    allowed = []
    for taken in product((0, 1), repeat=len(ids)):
        into = {id for id, is_in in zip(ids, taken, strict=True) if is_in}
        whole = all(needs.get(id, set()) <= into for id in into)
        if whole and not into & refused and all(len(group & into) < 2 for group in apart):
            allowed.append(tuple(sum(pairs[int(id) - 1][k] for id in into) for k in (0, 1)))
    best = max(worth for cost, worth in allowed if cost <= budget)
    found = fit(listed(pairs), Decimal(budget), needs, apart, refuse=refused)
    assert (found.benefit, found.is_proven) == (best, True)
    assert found.cost == min(cost for cost, worth in allowed if worth == best)
    assert found.room == budget - found.cost
    better = [cost for cost, worth in allowed if worth > best]
    assert (found.next_step and found.next_step.extra) == (min(better) - budget if better else None)


@pytest.mark.parametrize(
    ("wishes", "field"),
    [
        ({"insist": ["1"], "refuse": ["1"]}, "insist"),
        ({"insist": ["2"], "refuse": ["1"]}, "insist"),
        ({"insist": ["4", "5"]}, "insist"),
        ({"insist": ["1", "2"]}, "budget"),
        ({"insist": ["9"]}, "insist"),
    ],
)
def test_wishes_that_cannot_be_are_named(wishes, field):
    with pytest.raises(ComputeError) as caught:
        fit(listed(ATTACHED), Decimal(1000), {"2": {"1"}}, [{"4", "5"}], **wishes)
    assert caught.value.field == field
