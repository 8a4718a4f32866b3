"""Estimates begin at the catalogue, end at the shop's own history, and never run wild on the way."""

import math
import random
from statistics import NormalDist, median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.compute.errors import ComputeError
from shopflow.compute.hours import learn, three_point
from shopflow.compute.network import critical_path
from tests.compute.tables import rows

hours = st.floats(0.1, 500)
catalogues = st.tuples(hours, hours, hours).map(sorted)
histories = st.lists(hours, max_size=40)
FIGURES = ("low", "likely", "high", "mean")
ROUNDING = 1 + 1e-9


# One activity, and a textbook path of four (B. W. Taylor, Introduction to Management Science, title from
# memory); means and standard deviations printed.
def test_the_published_three_point_estimates():
    assert three_point(5, 8, 14) == (8.5, 1.5)
    path = [three_point(*each) for each in ((5, 8, 17), (3, 5, 7), (4, 6, 8), (3, 4, 5))]
    total, variance = sum(each.mean for each in path), sum(each.sd**2 for each in path)
    assert (total, variance) == (pytest.approx(24), pytest.approx(5))
    # Printed 0.9633, with z rounded to 1.79 before the table was read.
    assert NormalDist(total, math.sqrt(variance)).cdf(28) == pytest.approx(0.9633, abs=2e-4)


def test_the_published_network_with_three_point_estimates():
    table = rows("pert-14-estimates.csv")
    found = {
        row["activity"]: three_point(*(float(row[c]) for c in ("optimistic", "most_likely", "pessimistic")))
        for row in table
    }
    for row in table:
        assert round(found[row["activity"]].mean, 4) == float(row["mean"])
        assert round(found[row["activity"]].sd, 4) == float(row["sd"])
    after = [(before, row["activity"], 0) for row in table for before in row["predecessors"].split()]
    path = critical_path({job: each.mean for job, each in found.items()}, after)
    end = NormalDist(path.length, math.sqrt(sum(found[job].sd ** 2 for job in path.critical)))
    assert (round(end.mean, 4), round(end.variance, 6)) == (50.8333, 11.194444)
    assert (round(end.cdf(53), 6), round(end.cdf(55), 6)) == (0.741370, 0.893496)  # computed, not printed


@given(catalogues)
def test_without_evidence_the_catalogue_comes_back(catalogue):
    found = learn(*catalogue, [])
    assert [found.low, found.likely, found.high] == catalogue
    assert found.mean == three_point(*catalogue).mean
    assert (found.weight, found.n, found.reined_in) == (0, 0, 0)


# By hand: five jobs against a catalogue worth five. Likely = sqrt(4 x 9) = 6; spread weight 4 / 14, the
# shop's jobs all alike, so low = 6 x (2 / 4)^(10 / 14) and high = 6 x (8 / 4)^(10 / 14).
def test_five_equal_jobs_by_hand():
    found = learn(2, 4, 8, [9] * 5)
    assert (found.weight, found.n) == (0.5, 5)
    assert found.likely == pytest.approx(6)
    assert found.low == pytest.approx(6 * 0.5 ** (10 / 14))
    assert found.high == pytest.approx(6 * 2 ** (10 / 14))
    assert found.mean == pytest.approx(6 * ((26 / 6) / 4) ** (10 / 14))


def test_one_job_moves_the_estimate_but_says_nothing_of_its_spread():
    found = learn(4, 6, 10, [9])
    assert found.likely == pytest.approx(6 * 1.5 ** (1 / 6))
    assert (found.low / found.likely, found.high / found.likely) == pytest.approx((4 / 6, 10 / 6))


def test_much_evidence_gives_the_shops_own_figures():
    chance = random.Random(11)
    found = learn(2, 3, 5, [chance.lognormvariate(math.log(9), 0.4) for _ in range(4000)])
    reach = NormalDist().inv_cdf(0.9) * 0.4
    assert found.likely == pytest.approx(9, rel=0.03)
    assert found.low == pytest.approx(9 * math.exp(-reach), rel=0.03)
    assert found.high == pytest.approx(9 * math.exp(reach), rel=0.03)
    assert found.mean == pytest.approx(9 * math.exp(0.08), rel=0.03)


@given(catalogues, histories)
def test_the_figures_keep_their_order_and_stay_above_nothing(catalogue, observed):
    found = learn(*catalogue, observed)
    assert 0 < found.low <= found.likely * ROUNDING
    assert found.likely <= found.high * ROUNDING
    assert found.low <= found.mean * ROUNDING
    assert found.mean <= found.high * ROUNDING


@given(catalogues, histories.filter(bool), st.data())
def test_more_hours_in_a_job_never_lower_any_figure(catalogue, observed, data):
    place = data.draw(st.integers(0, len(observed) - 1))
    longer = [*observed]
    longer[place] *= data.draw(st.floats(1, 15))
    before, after = learn(*catalogue, observed), learn(*catalogue, longer)
    assert all(getattr(before, figure) <= getattr(after, figure) * ROUNDING for figure in FIGURES)


@given(catalogues, histories, st.randoms(use_true_random=False))
def test_the_order_of_the_jobs_does_not_matter(catalogue, observed, chance):
    shuffled = chance.sample(observed, len(observed))
    before, after = learn(*catalogue, observed), learn(*catalogue, shuffled)
    assert all(getattr(before, f) == pytest.approx(getattr(after, f)) for f in FIGURES)


@given(catalogues, hours, st.integers(0, 60))
def test_each_further_job_of_the_same_length_brings_likely_nearer_to_it(catalogue, job, n):
    before, after = learn(*catalogue, [job] * n), learn(*catalogue, [job] * (n + 1))
    assert abs(math.log(after.likely / job)) <= abs(math.log(before.likely / job)) + 1e-9
    assert before.weight < after.weight < 1


@given(catalogues, st.lists(hours, min_size=1, max_size=40), st.floats(0.1, 10))
def test_it_does_not_matter_in_which_unit_hours_are_counted(catalogue, observed, factor):
    plain = learn(*catalogue, observed)
    scaled = learn(*(each * factor for each in catalogue), [each * factor for each in observed])
    assert all(getattr(scaled, f) == pytest.approx(getattr(plain, f) * factor) for f in FIGURES)


@pytest.mark.parametrize("slip", [600, 6000, 0.01])
def test_a_forgotten_clock_does_not_carry_the_estimate_away(slip):
    usual = [7, 8, 9, 10, 8, 9, 7.5]
    clean, slipped = learn(5, 8, 12, usual), learn(5, 8, 12, [*usual, slip])
    assert slipped.reined_in == 1
    assert all(0.6 < getattr(slipped, f) / getattr(clean, f) < 1.6 for f in FIGURES)


def test_even_a_single_slip_is_held_back():
    assert learn(5, 8, 12, [800]).likely < 1.5 * 8


# The point of learning: over many invented shops it must come nearer to the truth than the catalogue alone,
# and than the shop's few jobs alone. How far both go astray is our own assumption.
def test_with_a_few_jobs_it_beats_catalogue_and_history_alone():
    chance = random.Random(5)
    errors = {"catalogue": 0.0, "history": 0.0, "learned": 0.0}
    for _ in range(1000):
        truth = math.exp(chance.gauss(2, 0.5))
        likely = truth * math.exp(chance.gauss(0, 0.3))
        jobs = [truth * math.exp(chance.gauss(0, 0.5)) for _ in range(4)]
        learned = learn(likely * 0.6, likely, likely * 1.7, jobs).likely
        for name, said in (("catalogue", likely), ("history", median(jobs)), ("learned", learned)):
            errors[name] += math.log(said / truth) ** 2
    assert errors["learned"] < 0.8 * min(errors["catalogue"], errors["history"])


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("low", lambda: learn(0, 1, 2, [])),
        ("low", lambda: learn(-1, 1, 2, [])),
        ("low", lambda: learn(math.nan, 1, 2, [])),
        ("likely", lambda: learn(2, 1, 3, [])),
        ("likely", lambda: learn(1, "2", 3, [])),
        ("high", lambda: learn(1, 2, 1.5, [])),
        ("high", lambda: learn(1, 2, math.inf, [])),
        ("high", lambda: learn(1, 2, 1e6, [])),
        ("observed", lambda: learn(1, 2, 3, [0])),
        ("observed", lambda: learn(1, 2, 3, [-4])),
        ("observed", lambda: learn(1, 2, 3, [True])),
        ("observed", lambda: learn(1, 2, 3, [math.nan])),
        ("observed", lambda: learn(1, 2, 3, "12")),
        ("observed", lambda: learn(1, 2, 3, None)),
        ("prior_jobs", lambda: learn(1, 2, 3, [2], prior_jobs=0)),
        ("likely", lambda: three_point(3, 2, 4)),
    ],
)
def test_nonsense_is_refused_by_name(field, wrong):
    with pytest.raises(ComputeError) as caught:
        wrong()
    assert caught.value.field == field
