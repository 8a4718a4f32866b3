"""Crown and bearing against published examples, two of them wrong in print."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.compute.bearing import (
    angle_deg,
    crown_arc_mm,
    crown_radius_mm,
    crown_rise_mm,
    down_force_n,
    net_angle_deg,
)
from shopflow.compute.errors import ComputeError

INCH = 25.4
FOOT = 12 * INCH


def test_rise_of_a_60_foot_radius_over_72_inches():
    """A lutherie reference page prints .900 in."""
    assert crown_rise_mm(60 * FOOT, 72 * INCH) / INCH == pytest.approx(0.900, abs=0.001)


def test_a_50_foot_radius_does_not_rise_the_same():
    """The same page claims .900 in for 50 ft too; it is 1.0810."""
    rise_in = crown_rise_mm(50 * FOOT, 72 * INCH) / INCH
    assert rise_in == pytest.approx(1.0810, abs=0.00005)
    assert abs(rise_in - 0.900) > 0.15


def test_arc_uses_half_the_chord():
    """Technicians' list, March 2001, R 72 in, chord 36 in: prints arc 37.7, rise 2.86; not 36.386, 2.286."""
    assert crown_arc_mm(72 * INCH, 36 * INCH) / INCH == pytest.approx(36.38596, abs=0.000005)
    assert crown_rise_mm(72 * INCH, 36 * INCH) / INCH == pytest.approx(2.28630, abs=0.000005)


def test_a_board_worked_by_hand():
    """60 ft radius, thread of 1200 mm: 9.84517 mm; and back."""
    assert crown_rise_mm(18_288, 1200) == pytest.approx(9.84517, abs=0.000005)
    assert crown_radius_mm(1200, crown_rise_mm(18_288, 1200)) == pytest.approx(18_288.000, abs=0.0005)


def test_seven_sixteenths_over_72_inches():
    assert crown_radius_mm(72 * INCH, 7 / 16 * INCH) / FOOT == pytest.approx(123.447, abs=0.0005)


@given(st.floats(100, 1e8), st.floats(0.01, 1))
def test_radius_rise_and_arc_agree_with_each_other(radius, share):
    chord = max(1.0, share * 2 * min(radius, 5_000))
    rise = crown_rise_mm(radius, chord)
    assert rise <= chord / 2 * (1 + 1e-12)
    if 0.001 <= rise <= chord / 2:
        assert crown_radius_mm(chord, rise) == pytest.approx(radius, rel=1e-9)
    assert chord <= crown_arc_mm(radius, chord) * (1 + 1e-12) <= chord * math.pi / 2 * (1 + 1e-9)


def test_one_degree_is_0_0175_of_the_back_length():
    """Technicians' rule for reading bearing with a feeler."""
    assert angle_deg(0.0175 * 80, 80) == pytest.approx(1.0, abs=0.003)


@given(st.floats(-45, 45), st.floats(-45, 45))
def test_net_bearing_is_the_sum_of_both_sides(front, back):
    assert net_angle_deg(front, back) == net_angle_deg(back, front) == front + back


@given(st.floats(0, 3_000), st.floats(-90, 90))
def test_down_force_grows_with_tension_and_changes_sign_with_the_angle(tension, net):
    force = down_force_n(tension, net)
    assert down_force_n(tension, -net) == -force
    assert down_force_n(2 * tension, net) == pytest.approx(2 * force)


def test_down_force_of_a_right_angle_is_the_diagonal_of_the_square():
    assert down_force_n(1, 90) == pytest.approx(math.sqrt(2))


def test_a_small_angle_gives_the_familiar_share_of_tension():
    """160 lb at one degree presses with about 2.8 lb, tension times 0.0175."""
    assert down_force_n(160, 1) == pytest.approx(160 * 0.01745, rel=1e-3)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: crown_radius_mm(0, 1), "chord_mm"),
        (lambda: crown_radius_mm(100, 0), "rise_mm"),
        (lambda: crown_radius_mm(100, 51), "rise_mm"),
        (lambda: crown_rise_mm(0, 10), "radius_mm"),
        (lambda: crown_rise_mm(100, 201), "chord_mm"),
        (lambda: crown_arc_mm(100, 201), "chord_mm"),
        (lambda: angle_deg(math.nan, 10), "rise_mm"),
        (lambda: angle_deg(1, 0), "length_mm"),
        (lambda: net_angle_deg(46, 0), "front_deg"),
        (lambda: net_angle_deg(0, "1"), "back_deg"),
        (lambda: down_force_n(-1, 1), "tension_n"),
        (lambda: down_force_n(700, 91), "net_deg"),
    ],
)
def test_nonsense_is_named(call, field):
    with pytest.raises(ComputeError) as caught:
        call()
    assert caught.value.field == field
