"""Proposed scales: plain wires are the best of all rows of sizes, wound strings carry what was asked."""

import math
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.compute.errors import ComputeError
from shopflow.compute.strings import (
    A228_MAXIMUM,
    MUSIC_WIRE_METRIC_MM,
    MUSIC_WIRE_MM,
    breaking_share,
    note_frequency_hz,
    propose_plain_wires,
    propose_wound_set,
    tension_n,
    wire_strength_mpa,
    wound_linear_density,
)

# An invented treble: 52 mm at the top note, 1.88 times longer with each octave down.
TREBLE_MM = {note: 52 * 1.88 ** ((88 - note) / 12) for note in range(31, 89)}
BASS_MM = {note: 1400 - 20 * note for note in range(1, 27)}

lengths = st.lists(st.floats(0.92, 1.10), min_size=1, max_size=4).map(
    lambda factors: {60 + place: 215 * 0.95**place * each for place, each in enumerate(factors)}
)
shelves = st.lists(st.sampled_from(sorted(MUSIC_WIRE_MM)), min_size=1, max_size=4, unique=True).map(
    lambda sizes: {size: MUSIC_WIRE_MM[size] for size in sizes}
)


def priced(row, lengths_mm, wanted, smoothness, breaks=()):
    """Price a row of diameters from first principles; None when it may not be."""
    pulls, shares = [], []
    for (note, length_mm), mm in zip(sorted(lengths_mm.items()), row, strict=True):
        hz = 440 * 2 ** ((note - 49) / 12)
        pulls.append(4 * (length_mm / 1000 * hz) ** 2 * 7850 * math.pi * (mm / 1000) ** 2 / 4)
        shares.append(pulls[-1] / (wire_strength_mpa(mm) * math.pi * mm**2 / 4))
    joined = [note not in breaks for note in sorted(lengths_mm)[1:]]
    thicker = (above > below for below, above in pairwise(row))
    if max(shares) > 0.70 or any(more and close for more, close in zip(thicker, joined, strict=True)):
        return None
    steps = sum(
        math.log(b / a) ** 2
        for run in (pulls, shares)
        for (a, b), close in zip(pairwise(run), joined, strict=True)
        if close
    )
    return sum(math.log(pull / wanted) ** 2 for pull in pulls) + smoothness * steps


@given(lengths, shelves, st.floats(500, 900), st.floats(0, 50))
def test_no_row_of_sizes_beats_the_proposal(lengths_mm, shelf, wanted, smoothness):
    rows = product(shelf.values(), repeat=len(lengths_mm))
    prices = [priced(row, lengths_mm, wanted, smoothness) for row in rows]
    best = min(price for price in prices if price is not None)
    proposal = propose_plain_wires(lengths_mm, wanted_tension_n=wanted, sizes_mm=shelf, smoothness=smoothness)
    proposed = priced([each.diameter_mm for each in proposal.strings], lengths_mm, wanted, smoothness)
    assert proposed == pytest.approx(best, rel=1e-9, abs=1e-12)
    assert proposal.cost == pytest.approx(best, rel=1e-9, abs=1e-12)


@given(lengths, shelves, st.floats(500, 900), st.sets(st.integers(60, 64)))
def test_no_row_of_sizes_beats_the_proposal_over_section_breaks(lengths_mm, shelf, wanted, breaks):
    rows = product(shelf.values(), repeat=len(lengths_mm))
    prices = [priced(row, lengths_mm, wanted, 4.0, breaks) for row in rows]
    best = min(price for price in prices if price is not None)
    proposal = propose_plain_wires(lengths_mm, wanted_tension_n=wanted, sizes_mm=shelf, breaks=breaks)
    row = [each.diameter_mm for each in proposal.strings]
    assert priced(row, lengths_mm, wanted, 4.0, breaks) == pytest.approx(best, rel=1e-9, abs=1e-12)
    assert proposal.cost == pytest.approx(best, rel=1e-9, abs=1e-12)


def test_wire_may_get_thicker_again_over_a_break_and_nowhere_else():
    """At the break the lengths jump down by a quarter, as over a strut that cuts the bridge short."""
    lengths_mm = {60: 225, 61: 214, 62: 160, 63: 152}
    whole = propose_plain_wires(lengths_mm, wanted_tension_n=700).strings
    parted = propose_plain_wires(lengths_mm, wanted_tension_n=700, breaks=[62]).strings
    assert all(high.diameter_mm <= low.diameter_mm for low, high in pairwise(whole))
    assert parted[2].diameter_mm > parted[1].diameter_mm
    off_whole, off_parted = (max(abs(math.log(x.tension_n / 700)) for x in row) for row in (whole, parted))
    assert off_parted < off_whole / 2


def greedy_row(lengths_mm):
    """Choose upward, each note's wire for itself and the one below, never looking ahead."""
    row: list[float] = []
    for note in lengths_mm:
        so_far = {each: length_mm for each, length_mm in lengths_mm.items() if each <= note}
        sizes = ([*row, mm] for mm in MUSIC_WIRE_MM.values())
        prices = [(priced(each, so_far, 710, 4), each) for each in sizes]
        row = min(price for price in prices if price[0] is not None)[1]
    return row


def test_choosing_note_by_note_would_be_worse():
    """Lengths that fall unevenly: looking ahead costs a third less."""
    lengths_mm = {60: 227, 61: 210, 62: 189, 63: 181, 64: 170, 65: 161}
    assert propose_plain_wires(lengths_mm).cost < 0.67 * priced(greedy_row(lengths_mm), lengths_mm, 710, 4)


def test_a_whole_treble_gets_an_even_pull_and_thicker_wire_downward():
    strings = propose_plain_wires(TREBLE_MM).strings
    assert [each.note for each in strings] == list(range(31, 89))
    assert all(above.diameter_mm <= below.diameter_mm for below, above in pairwise(strings))
    assert all(abs(above.tension_n / below.tension_n - 1) < 0.06 for below, above in pairwise(strings))
    assert all(abs(each.tension_n / 710 - 1) < 0.09 for each in strings)
    # Sizes 13 at the top and 17 to 18 by the break, as is usual (common practice, no source).
    assert (strings[-1].size, strings[0].size) == (13, 18)


def test_each_string_says_what_it_carries():
    for each in propose_plain_wires(TREBLE_MM, sizes_mm=MUSIC_WIRE_METRIC_MM, figure=A228_MAXIMUM).strings:
        assert each.diameter_mm == MUSIC_WIRE_METRIC_MM[each.size]
        pull = tension_n(note_frequency_hz(each.note), TREBLE_MM[each.note], each.diameter_mm)
        assert each.tension_n == pytest.approx(pull)
        assert each.breaking_share == breaking_share(pull, each.diameter_mm, figure=A228_MAXIMUM)
        assert each.breaking_share.figure == A228_MAXIMUM


def test_a_greater_pull_asks_for_thicker_wire():
    light, heavy = (propose_plain_wires(TREBLE_MM, wanted_tension_n=each).strings for each in (600, 850))
    assert all(h.diameter_mm >= li.diameter_mm for h, li in zip(heavy, light, strict=True))
    assert sum(each.tension_n for each in heavy) > 1.2 * sum(each.tension_n for each in light)


def test_a_string_too_long_for_its_pitch_is_named():
    with pytest.raises(ComputeError, match=r"lengths_mm: got .note 88, share 1\.\d\d at best.") as caught:
        propose_plain_wires({87: 54, 88: 75})
    assert caught.value.field == "lengths_mm"


@given(st.floats(700, 1_100), st.sampled_from([0.4, 0.5, 0.6]), st.sampled_from([0.005, 0.01, 0.05]))
def test_a_wound_set_carries_what_was_asked(wanted, share, step):
    for each in propose_wound_set(BASS_MM, wanted, highest_share=share, wrap_step_mm=step):
        mass = wound_linear_density(each.core_mm, each.outside_mm)
        hz, length_mm = note_frequency_hz(each.note), BASS_MM[each.note]
        assert each.linear_density_g_m == pytest.approx(mass)
        assert each.tension_n == pytest.approx(tension_n(hz, length_mm, linear_density_g_m=mass))
        assert each.breaking_share <= share
        assert each.tension_n <= wanted * (1 + 1e-9)
        heavier = wound_linear_density(each.core_mm, each.outside_mm + 2 * step)
        assert tension_n(hz, length_mm, linear_density_g_m=heavier) > wanted * (1 - 1e-9)
        thinner = [mm for mm in MUSIC_WIRE_MM.values() if mm < each.core_mm]
        assert all(breaking_share(wanted, mm) > share for mm in thinner)


def test_wraps_come_from_the_shelf_where_one_is_named():
    shelf = [0.2, 0.5, 0.8, 1.1, 1.4, 1.7, 2.0]
    for free, each in zip(
        propose_wound_set(BASS_MM, 900), propose_wound_set(BASS_MM, 900, wraps_mm=shelf), strict=True
    ):
        assert each.wrap_mm == max(wire for wire in shelf if wire <= free.wrap_mm + 1e-9)
        assert each.tension_n <= 900


def test_each_bass_note_may_have_a_pull_of_its_own():
    strings = propose_wound_set({1: 1380, 2: 1360}, {1: 950, 2: 900})
    assert [each.note for each in strings] == [1, 2]
    assert [round(each.tension_n, -1) for each in strings] == pytest.approx([950, 900], abs=10)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: propose_plain_wires({}), "lengths_mm"),
        (lambda: propose_plain_wires([400, 380]), "lengths_mm"),
        (lambda: propose_plain_wires({89: 50}), "note"),
        (lambda: propose_plain_wires({49: 0}), "lengths_mm"),
        (lambda: propose_plain_wires({88: 9_999}), "lengths_mm"),
        (lambda: propose_plain_wires({49: 400}, wanted_tension_n=0), "wanted_tension_n"),
        (lambda: propose_plain_wires({49: 400}, sizes_mm={}), "sizes_mm"),
        (lambda: propose_plain_wires({49: 400}, sizes_mm=[1.0]), "sizes_mm"),
        (lambda: propose_plain_wires({49: 400}, highest_share=0), "highest_share"),
        (lambda: propose_plain_wires({49: 400}, smoothness=-1), "smoothness"),
        (lambda: propose_plain_wires({49: 400}, figure="hearsay"), "figure"),
        (lambda: propose_wound_set({}, 900), "lengths_mm"),
        (lambda: propose_wound_set({1: 10}, 900), "lengths_mm"),
        (lambda: propose_wound_set({1: 1380}, 0), "wanted_tension_n"),
        (lambda: propose_wound_set({1: 1380}, {2: 900}), "wanted_tension_n"),
        (lambda: propose_wound_set({1: 1380}, 9000), "wanted_tension_n"),  # No core is strong enough.
        (lambda: propose_wound_set({49: 400}, 300), "wanted_tension_n"),  # Needs no wrap.
        (lambda: propose_wound_set({1: 1380}, 900, highest_share=2), "highest_share"),
        (lambda: propose_wound_set({1: 1380}, 900, wrap_step_mm=0), "wrap_step_mm"),
        (lambda: propose_wound_set({1: 1380}, 900, cores_mm={}), "cores_mm"),
        (lambda: propose_wound_set({1: 1380}, 900, wraps_mm=[]), "wraps_mm"),
        (lambda: propose_wound_set({1: 1380}, 900, wraps_mm=[5]), "wraps_mm"),
        (lambda: propose_plain_wires({49: 400}, breaks=[0]), "note"),
    ],
)
def test_nonsense_is_named(call, field):
    with pytest.raises(ComputeError) as caught:
        call()
    assert caught.value.field == field
