"""Little's law and the queue of equal benches agree with published examples and with each other."""

import math
import random
from heapq import heappop, heappush

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from shopflow.compute.errors import ComputeError
from shopflow.compute.flow import erlang_c, littles_law


# J. D. C. Little and S. C. Graves, "Little's Law", in Building Intuition (Springer 2008), opening example:
# 160 bottles, 8 a month; the answer is printed as 1.67 years.
def test_the_wine_rack():
    assert littles_law(work_in_hand=160, throughput=8) == 20
    assert round(littles_law(work_in_hand=160, throughput=96), 2) == 1.67


# A lecture exercise on business processes (inputs seen there, answers computed): 0.6 h at peak and off-peak.
@pytest.mark.parametrize(("guests", "per_hour"), [(90, 150), (30, 50)])
def test_the_restaurant(guests, per_hour):
    assert littles_law(work_in_hand=guests, throughput=per_hour) == pytest.approx(0.6)


@given(st.floats(1e-3, 1e4), st.floats(1e-3, 1e4))
def test_the_three_ways_round_agree(throughput, lead_time):
    work = littles_law(throughput=throughput, lead_time=lead_time)
    assert littles_law(work_in_hand=work, throughput=throughput) == pytest.approx(lead_time)
    assert littles_law(work_in_hand=work, lead_time=lead_time) == pytest.approx(throughput)


# R. Bronson, Operations Research (1982, title from memory), nos. 23.3, 23.14 and 24.6, as listed on a
# university page; Render, Stair and Hanna, instructor manual, ch. 14, alternative example 14.3.
def test_one_bench_24_an_hour_against_30():
    queue = erlang_c(24, 30, 1)
    assert (queue.in_system, queue.time_in_system) == (pytest.approx(4), pytest.approx(1 / 6))
    assert queue.idle_probability == pytest.approx(0.2)


def test_one_bench_30_an_hour_against_40():
    queue = erlang_c(30, 40, 1)
    assert (queue.waiting, queue.wait * 60) == (pytest.approx(2.25), pytest.approx(4.5))
    assert queue.idle_probability == pytest.approx(0.25)


def test_three_benches_300_a_year():
    queue = erlang_c(300, 182.5, 3)
    assert round(queue.waiting, 3) == 0.352
    assert round(queue.in_system, 3) == 1.996
    assert round(queue.wait * 365, 2) == 0.43
    assert round(queue.time_in_system * 365, 3) == 2.429
    assert round(queue.idle_probability, 5) == 0.17754
    assert queue.wait_probability == pytest.approx(0.290751, abs=5e-7)  # computed, not printed


def test_two_benches_20_an_hour():
    queue = erlang_c(20, 30, 2)
    assert (queue.idle_probability, queue.in_system) == (pytest.approx(0.5), pytest.approx(0.75))
    assert (queue.waiting, queue.time_in_system) == (pytest.approx(1 / 12), pytest.approx(0.0375))


# Chance of waiting from a public test suite for the Erlang C formula; the rows so marked were computed.
@pytest.mark.parametrize(
    ("offered", "servers", "waits", "digits"),
    [
        (48, 55, 0.23870, 5),
        (10, 12, 0.44939, 5),
        (2, 3, 0.444444, 6),  # computed: 4/9
        (10, 11, 0.682118, 6),  # computed
        (10, 14, 0.174132, 6),  # computed
    ],
)
def test_the_chance_of_waiting(offered, servers, waits, digits):
    assert round(erlang_c(offered, 1, servers).wait_probability, digits) == waits


def test_the_share_that_starts_in_time():
    busy = erlang_c(360 / 1800, 1 / 240, 55)
    assert round(busy.wait, 3) == 8.184
    assert round(busy.started_within(20), 4) == 0.8668
    assert round(busy.started_within(15), 5) == 0.84588
    assert round(erlang_c(200 / 3600, 1 / 180, 14).started_within(20), 5) == 0.88835  # computed
    assert round(erlang_c(200 / 3600, 1 / 180, 14).wait, 3) == 7.836  # computed
    assert round(erlang_c(200 / 3600, 1 / 180, 11).started_within(20), 5) == 0.38961  # computed


@example(49, 1.192092896e-07, 1.0)  # hardly any work: once lost its digits and said idle more than always
@given(st.integers(1, 60), st.floats(0, 0.99), st.floats(0.01, 100))
def test_every_queue_obeys_littles_law_and_the_textbook_sum(servers, utilisation, service):
    arrivals = utilisation * servers * service
    queue = erlang_c(arrivals, service, servers)
    assert queue.in_system == pytest.approx(queue.waiting + arrivals / service)
    assert queue.waiting == pytest.approx(arrivals * queue.wait)
    assert queue.idle_probability == pytest.approx(_idle_by_sum(arrivals / service, servers), rel=1e-9)
    assert 0 <= queue.wait_probability <= 1
    assert 0 < queue.idle_probability <= 1


@given(st.integers(1, 30), st.floats(0.05, 0.95))
def test_another_bench_shortens_the_wait(servers, utilisation):
    arrivals = utilisation * servers
    assert erlang_c(arrivals, 1, servers + 1).wait < erlang_c(arrivals, 1, servers).wait


def test_a_simulated_department_waits_as_long_as_computed():
    simulated = _simulate(arrivals=2.4, service=1.0, servers=3, jobs=200_000, chance=random.Random(7))
    assert simulated == pytest.approx(erlang_c(2.4, 1.0, 3).wait, rel=0.05)


def test_a_thousand_benches_do_not_overflow():
    queue = erlang_c(990, 1, 1000)
    assert 0.5 < queue.wait_probability < 1
    assert queue.idle_probability < 1e-300


def test_more_work_than_the_benches_can_do_is_refused_in_words():
    with pytest.raises(ComputeError, match="grows for ever"):
        erlang_c(3, 1, 3)


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("arrival_rate", lambda: erlang_c(-1, 1, 1)),
        ("arrival_rate", lambda: erlang_c(math.nan, 1, 1)),
        ("service_rate", lambda: erlang_c(1, 0, 1)),
        ("servers", lambda: erlang_c(1, 2, 1.0)),
        ("servers", lambda: erlang_c(1, 2, 0)),
        ("time", lambda: erlang_c(1, 2, 1).started_within(-1)),
        ("littles_law", lambda: littles_law(throughput=3)),
        ("littles_law", lambda: littles_law(work_in_hand=3, throughput=3, lead_time=1)),
        ("littles_law", littles_law),
        ("throughput", lambda: littles_law(work_in_hand=3, throughput=0)),
        ("lead_time", lambda: littles_law(work_in_hand=3, lead_time=0)),
        ("work_in_hand", lambda: littles_law(work_in_hand=-3, lead_time=1)),
        ("throughput", lambda: littles_law(work_in_hand=3, throughput=True)),
    ],
)
def test_nonsense_is_refused_by_name(field, wrong):
    with pytest.raises(ComputeError) as caught:
        wrong()
    assert caught.value.field == field


def _idle_by_sum(offered, servers):
    full = offered**servers / math.factorial(servers) * servers / (servers - offered)
    return 1 / (sum(offered**n / math.factorial(n) for n in range(servers)) + full)


def _simulate(arrivals, service, servers, jobs, chance):
    """Mean wait of jobs served in the order of arrival, each by the bench that is free first."""
    free, now, waited = [0.0] * servers, 0.0, 0.0
    for _ in range(jobs):
        now += chance.expovariate(arrivals)
        start = max(now, heappop(free))
        waited += start - now
        heappush(free, start + chance.expovariate(service))
    return waited / jobs
