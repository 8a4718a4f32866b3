"""Touchweight and key leads against a technicians' list and hand-worked levers."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.compute.errors import ComputeError
from shopflow.compute.touch import (
    USUAL_BALANCE_G,
    USUAL_FRICTION_G,
    balance_and_friction,
    lead_effect_g,
    lead_for,
    lead_inertia_kg_m2,
    odd_keys,
)

places = st.floats(1, 1000)


# Technicians' list, college branch, worked in a message: the second row has one more gram of friction.
@pytest.mark.parametrize(("down", "up", "balance", "friction"), [(52, 28, 40, 12), (53, 27, 40, 13)])
def test_touch_as_worked_on_the_list(down, up, balance, friction):
    touch = balance_and_friction(down, up)
    assert touch == (balance, friction)
    assert (touch.balance_g, touch.friction_g) == (balance, friction)


@given(st.floats(0, 200), st.floats(0, 200))
def test_balance_and_friction_give_the_readings_back(up, more):
    balance, friction = balance_and_friction(up + more, up)
    assert balance + friction == pytest.approx(up + more)
    assert balance - friction == pytest.approx(up, abs=1e-9)
    assert friction >= 0


def test_a_gram_of_front_weight_lowers_balance_by_a_gram():
    """Worked on the same list: one gram added at the front."""
    before, after = balance_and_friction(52, 28), balance_and_friction(51, 27)
    lowered = before.balance_g - after.balance_g
    assert lowered == lead_effect_g(1, 210, 210) == 1
    assert before.friction_g == after.friction_g


def test_a_lead_worked_by_hand():
    """14 g at 130 mm, read at 210 mm, lowers by 8.6667 g."""
    assert lead_effect_g(14, 130, 210) == pytest.approx(8.6667, abs=0.00005)
    assert lead_for(14 * 130 / 210, 130, 210) == pytest.approx(14)


def test_same_static_effect_is_not_the_same_inertia():
    """By hand: 14 g at 130 mm against 9.3333 g at 195 mm; S. Birkett, 2003, for the two moments."""
    near, far = lead_inertia_kg_m2(14, 130), lead_inertia_kg_m2(14 * 130 / 195, 195)
    assert near == pytest.approx(2.3660e-4, abs=5e-9)
    assert far == pytest.approx(3.5490e-4, abs=5e-9)
    assert far / near == pytest.approx(1.5)
    assert lead_effect_g(14, 130, 210) == pytest.approx(lead_effect_g(14 * 130 / 195, 195, 210))


@given(st.floats(0, 200), places, places)
def test_lead_for_is_undone_by_its_effect(lower_by, lead_at, felt_at):
    lead = lead_for(lower_by, lead_at, felt_at)
    if lead <= 1000:
        assert lead_effect_g(lead, lead_at, felt_at) == pytest.approx(lower_by)


def test_an_even_action_has_no_odd_keys():
    assert odd_keys({note: (51 - note / 88, 27 - note / 88) for note in range(1, 89)}) == []


def test_a_key_unlike_its_neighbours_is_named_with_what_they_have():
    weights = dict.fromkeys(range(1, 89), (52.0, 28.0)) | {40: (60.0, 36.0), 60: (60.0, 20.0)}
    assert [tuple(each) for each in odd_keys(weights)] == [
        (40, "balance", "neighbours", 48, 40),
        (60, "friction", "neighbours", 20, 12),
    ]


def test_a_whole_action_beside_the_usual_is_named_for_its_span():
    heavy = odd_keys(dict.fromkeys(range(1, 89), (62.0, 38.0)))
    assert {(each.what, each.why, each.usual_g) for each in heavy} == {
        ("balance", "high", USUAL_BALANCE_G[1])
    }
    assert len(heavy) == 88
    stiff = odd_keys(dict.fromkeys(range(1, 89), (60.0, 20.0)))
    assert {(each.what, each.why, each.usual_g) for each in stiff} == {
        ("friction", "high", USUAL_FRICTION_G[1])
    }


def test_few_samples_are_not_held_against_each_other():
    assert odd_keys({1: (50, 26), 40: (55, 31), 88: (48, 28)}) == []


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: balance_and_friction(28, 52), "up_g"),
        (lambda: balance_and_friction(-1, 0), "down_g"),
        (lambda: balance_and_friction(math.inf, 0), "down_g"),
        (lambda: odd_keys({}), "weights"),
        (lambda: odd_keys([50, 20]), "weights"),
        (lambda: odd_keys({0: (50, 20)}), "note"),
        (lambda: odd_keys({1: (20, 50)}), "up_g"),
        (lambda: lead_for(-1, 130, 210), "lower_by_g"),
        (lambda: lead_for(5, 0, 210), "lead_at_mm"),
        (lambda: lead_for(5, 130, 0), "felt_at_mm"),
        (lambda: lead_effect_g(-1, 130, 210), "lead_g"),
        (lambda: lead_inertia_kg_m2(14, -130), "lead_at_mm"),
    ],
)
def test_nonsense_is_named(call, field):
    with pytest.raises(ComputeError) as caught:
        call()
    assert caught.value.field == field
