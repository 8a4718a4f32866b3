"""The picture of what waits for what: places first, then the drawing."""

from __future__ import annotations

import re
from dataclasses import dataclass
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.common.charts.net import Look, Piece, net
from shopflow.common.charts.net_places import places
from shopflow.compute.errors import ComputeError


@dataclass(frozen=True)
class Bench:
    name: str
    mark: str
    material: str


BENCHES = {"case": Bench("Refinishing", "RF", "walnut"), "plate": Bench("Plating", "PL", "brass")}


def piece(key: int, band: str = "case", **given: object) -> Piece:
    facts = {
        "name": f"task {key}",
        "kind": "racked",
        "look": Look.WAITING,
        "url": f"/t/{key}/",
        "said": f"t{key}",
    }
    return Piece(key=key, band=band, **(facts | given))


def test_each_stands_one_column_after_the_last_of_those_it_waits_for():
    found = places({1: "case", 2: "case", 3: "case", 4: "case"}, [(1, 2), (2, 3), (1, 4)], ["case"])
    assert found.column == {1: 0, 2: 1, 3: 2, 4: 1}


def test_a_tie_that_a_longer_chain_says_already_is_not_drawn():
    found = places({1: "case", 2: "case", 3: "case"}, [(1, 2), (2, 3), (1, 3)], ["case"])
    assert {(run.earlier, run.later) for run in found.runs} == {(1, 2), (2, 3)}


def test_a_circle_is_refused():
    with pytest.raises(ComputeError):
        places({1: "case", 2: "case"}, [(1, 2), (2, 1)], ["case"])


nets = st.integers(1, 25).flatmap(
    lambda count: st.tuples(
        st.lists(st.sampled_from(["case", "plate"]), min_size=count, max_size=count),
        st.sets(
            st.tuples(st.integers(0, count - 1), st.integers(0, count - 1)).filter(
                lambda tie: tie[0] < tie[1]
            )
        ),
    )
)


@given(nets)
def test_no_two_pieces_share_a_place_and_bands_do_not_mix(drawn):
    bands, ties = drawn
    found = places(dict(enumerate(bands)), sorted(ties), ["case", "plate"])
    cells = {(found.column[key], found.row[key]) for key in range(len(bands))}
    assert len(cells) == len(bands)
    rows = {band.band: range(band.first, band.first + band.count) for band in found.bands}
    assert all(found.row[key] in rows[band] for key, band in enumerate(bands))
    assert all(found.column[earlier] < found.column[later] for earlier, later in ties)


@given(nets)
def test_no_tie_runs_through_a_piece(drawn):
    bands, ties = drawn
    found = places(dict(enumerate(bands)), sorted(ties), ["case", "plate"])
    taken = {(found.column[key], found.row[key]) for key in range(len(bands))}
    for run in found.runs:
        between = range(found.column[run.earlier] + 1, found.column[run.later])
        assert run.below or not {(column, run.row) for column in between} & taken


def test_the_drawing_is_well_formed_and_every_piece_is_a_link():
    drawn = net([piece(1), piece(2, "plate"), piece(3)], [(1, 3), (2, 3)], BENCHES)
    links = re.findall(r'<a href="(/t/\d/)"', drawn.body)
    assert sorted(links) == ["/t/1/", "/t/2/", "/t/3/"]
    for part in (drawn.heads, drawn.body):
        ElementTree.fromstring(part)


def test_names_stay_words_whatever_they_contain():
    drawn = net([piece(1, name="<script>x</script>", said='"><b>')], [], BENCHES)
    assert "<script>" not in drawn.body
    assert "<b>" not in drawn.body


def test_two_states_differ_by_more_than_colour():
    shown = {
        look: re.sub(r'(fill|stroke)="#[0-9a-f]+"', "", net([piece(1, look=look)], [], BENCHES).body)
        for look in (Look.SIGNED, Look.WAITING, Look.READY, Look.STOPPED)
    }
    assert len(set(shown.values())) == len(shown)


def test_a_department_without_work_takes_no_room():
    drawn = net([piece(1)], [], BENCHES)
    assert "Plating" not in drawn.heads


def test_an_empty_net_is_an_empty_drawing():
    assert 'viewBox="0 0' in net([], [], BENCHES).body
