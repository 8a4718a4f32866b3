"""Critical paths agree with published networks and with a walk along every path; circles are named."""

import math
import random
import string
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shopflow.compute.errors import ComputeError
from shopflow.compute.network import critical_path, order, without_shortcuts
from tests.compute.tables import rows


@st.composite
def networks(draw):
    """Durations and links without a circle, the jobs named in shuffled order."""
    jobs = draw(st.permutations(string.ascii_uppercase[: draw(st.integers(1, 8))]))
    pairs = [(first, then) for place, first in enumerate(jobs) for then in jobs[place + 1 :]]
    chosen = draw(st.lists(st.sampled_from(pairs), unique=True)) if pairs else []
    hours = st.integers(0, 80).map(lambda quarters: quarters / 4)
    return {job: draw(hours) for job in sorted(jobs)}, [(*pair, draw(hours)) for pair in chosen]


def published(example):
    table = [row for row in rows("cpm-examples.csv") if row["example"] == example]
    durations = {row["activity"]: float(row["duration"]) for row in table}
    after = [(before, row["activity"], 0) for row in table for before in row["predecessors"].split()]
    return table, durations, after


@pytest.mark.parametrize(
    ("example", "length", "critical", "within"),
    [
        ("cpm-9", 33, "ABDGI", 1e-9),
        ("cpm-10", 15, "CGIJ", 1e-9),
        ("pert-14", 50.8333, "ACEHIKMN", 0.0051),  # dates there to two decimals
    ],
)
def test_the_published_networks(example, length, critical, within):
    table, durations, after = published(example)
    path = critical_path(durations, after)
    assert path.length == pytest.approx(length, abs=1e-4)
    assert "".join(path.critical) == critical
    for row in table:
        found = path[row["activity"]]
        assert (found.early_start, found.early_finish, found.late_start, found.late_finish) == pytest.approx(
            tuple(float(row[column]) for column in ("es", "ef", "ls", "lf")), abs=within
        )
        assert found.total_float == pytest.approx(float(row["total_float"]), abs=within)
        assert found.free_float == pytest.approx(float(row["free_float"]), abs=within)


# By hand: glue rests 24 h before stringing; B ends at 2 + 24 = 26 + 5 = 31, C at 10; D waits for B: 31 to 32.
def test_a_rest_takes_time_but_no_duration():
    path = critical_path(
        {"glue": 2, "string": 5, "polish": 10, "fit": 1},
        [("glue", "string", 24), ("string", "fit", 0), ("polish", "fit", 3)],
    )
    assert path.length == 32
    assert path["string"].early_start == 26
    assert (path["polish"].total_float, path["polish"].free_float) == (18, 18)
    assert path.critical == ("glue", "string", "fit")


@given(networks())
def test_the_length_is_that_of_the_longest_path(network):
    durations, after = network
    chains = (chain for job in durations for chain in _chains_from(job, durations, after))
    assert critical_path(durations, after).length == max(chains)


@given(networks())
def test_a_job_can_slip_by_its_float_and_not_by_more(network):
    durations, after = network
    path = critical_path(durations, after)
    for job, times in path.items():
        slipped = {**durations, job: durations[job] + times.total_float}
        assert critical_path(slipped, after).length == path.length
        assert critical_path({**slipped, job: slipped[job] + 1}, after).length == path.length + 1


@given(networks())
def test_slipping_by_the_free_float_moves_no_other_job(network):
    durations, after = network
    path = critical_path(durations, after)
    for job, times in path.items():
        slipped = critical_path({**durations, job: durations[job] + times.free_float}, after)
        assert all(slipped[other].early_start == path[other].early_start for other in durations)
        assert 0 <= times.free_float <= times.total_float


@given(networks())
def test_every_network_has_a_critical_chain_from_start_to_end(network):
    durations, after = network
    path = critical_path(durations, after)
    assert any(path[job].early_start == 0 for job in path.critical)
    assert any(path[job].early_finish == path.length for job in path.critical)


@given(networks())
def test_the_order_keeps_every_link_and_every_job_once(network):
    durations, after = network
    found = order(after, jobs=durations)
    assert sorted(found) == sorted(durations)
    assert all(found.index(first) < found.index(then) for first, then, _ in after)


@given(networks())
def test_the_next_is_always_the_first_mentioned_that_waits_for_nothing(network):
    left, after = list(network[0]), network[1]
    for job in order(after, jobs=left.copy()):
        free = [each for each in left if not any(first in left for first, then, _ in after if then == each)]
        assert job == free[0]
        left.remove(job)


def test_free_jobs_keep_the_order_in_which_they_were_mentioned():
    assert order([("c", "a", 0)], jobs=["d", "b", "a"]) == ["d", "b", "c", "a"]
    assert order([]) == []


def test_the_circle_is_named_in_order_without_the_jobs_beside_it():
    with pytest.raises(ComputeError, match="strings off -> pins out -> plate out -> strings off") as caught:
        order(
            [
                ("survey", "strings off", 0),
                ("plate out", "strings off", 0),
                ("strings off", "pins out", 0),
                ("pins out", "plate out", 0),
                ("plate out", "board out", 0),
            ]
        )
    assert caught.value.field == "after"
    assert caught.value.given == ("strings off", "pins out", "plate out", "strings off")


def test_a_job_after_itself_is_a_circle_of_one():
    with pytest.raises(ComputeError, match="voice -> voice"):
        critical_path({"voice": 1}, [("voice", "voice", 0)])


@given(networks(), st.randoms(use_true_random=False))
def test_a_named_circle_is_really_there(network, chance):
    durations, after = network
    assume(after)
    first, then = _two_jobs_that_follow(after, chance)
    links = [*after, (then, first, 0)]
    with pytest.raises(ComputeError) as caught:
        critical_path(durations, links)
    circle = caught.value.given
    pairs = {(before, later) for before, later, _ in links}
    assert circle[0] == circle[-1]
    assert len(set(circle)) == len(circle) - 1
    assert all(pair in pairs for pair in pairwise(circle))


@given(networks())
def test_exactly_the_links_without_a_way_round_are_kept(network):
    pairs = [(first, then) for first, then, _ in network[1]]
    roundabout = {
        (first, then)
        for first, then in pairs
        if any(then in _reached(other, pairs) for start, other in pairs if start == first and other != then)
    }
    assert without_shortcuts([*pairs, *pairs]) == [pair for pair in pairs if pair not in roundabout]


def test_a_shop_full_of_jobs_is_worked_out_at_once():
    chance = random.Random(3)
    jobs = {job: chance.uniform(0, 20) for job in range(5000)}
    links = [(job - chance.randint(1, min(job, 30)), job, 0) for job in range(1, 5000) for _ in range(3)]
    path = critical_path(jobs, links)
    assert path.length == pytest.approx(sum(jobs[job] for job in path.critical))


def test_no_jobs_take_no_time():
    path = critical_path({}, [])
    assert (path.length, path.critical, len(path)) == (0, (), 0)


FINE = {"a": 1, "b": 2}


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("durations", lambda: critical_path([1, 2], [])),
        ("durations", lambda: critical_path({"a": -1}, [])),
        ("durations", lambda: critical_path({"a": math.nan}, [])),
        ("durations", lambda: critical_path({"a": math.inf}, [])),
        ("durations", lambda: critical_path({"a": True}, [])),
        ("durations", lambda: critical_path({"a": "2"}, [])),
        ("after", lambda: critical_path(FINE, [("a", "c", 0)])),
        ("after", lambda: critical_path(FINE, [("a", "b", -1)])),
        ("after", lambda: critical_path(FINE, [("a", "b", math.nan)])),
        ("after", lambda: critical_path(FINE, [("a",)])),
        ("after", lambda: critical_path(FINE, ["ab"])),
        ("after", lambda: critical_path(FINE, None)),
        ("job", lambda: order([(["a"], "b", 0)])),
        ("after", lambda: without_shortcuts([("a", "b"), ("b", "a")])),
    ],
)
def test_nonsense_is_refused_by_name(field, wrong):
    with pytest.raises(ComputeError) as caught:
        wrong()
    assert caught.value.field == field


def _chains_from(job, durations, after):
    """Lengths of all chains of work that begin with a job."""
    yield durations[job]
    for first, then, lag in after:
        if first == job:
            yield from (durations[job] + lag + rest for rest in _chains_from(then, durations, after))


def _reached(job, pairs):
    """All jobs that come after a job, directly or by way of others."""
    nexts = {then for first, then in pairs if first == job}
    return nexts.union(*(_reached(then, pairs) for then in nexts))


def _two_jobs_that_follow(after, chance):
    pairs = [(first, then) for first, then, _ in after]
    return chance.choice(sorted((first, then) for first, _ in pairs for then in _reached(first, pairs)))
