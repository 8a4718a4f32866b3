"""The whole staircase of benefit against money holds every efficient set and no other."""

from decimal import Decimal
from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from shopflow.compute.scope import Choice, curve

small = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=1, max_size=5)


@settings(max_examples=15, deadline=None)
@given(small)
def test_the_staircase_is_that_of_all_sets(pairs):
    sums = [
        tuple(sum(k * pair[part] for k, pair in zip(taken, pairs, strict=True)) for part in (0, 1))
        for taken in product((0, 1), repeat=len(pairs))
    ]
    efficient = {
        (cost, worth)
        for cost, worth in sums
        if not any(c <= cost and w >= worth and (c, w) != (cost, worth) for c, w in sums)
    }
    found = curve([Choice(str(n), Decimal(c), w) for n, (c, w) in enumerate(pairs)], {}, [], points=100)
    assert found.is_whole
    assert [(point.cost, point.benefit) for point in found.points] == sorted(efficient)
