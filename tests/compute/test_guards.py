"""Nonsense is turned away at the door with its name; good values pass unchanged."""

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.compute.errors import ComputeError
from shopflow.compute.guards import number, one_of, some, whole


@pytest.mark.parametrize(
    "nonsense",
    [math.nan, math.inf, -math.inf, True, "12", None, [], 1 + 2j, 10**400, Decimal("NaN"), Decimal("sNaN")],
)
def test_what_is_not_a_finite_number_is_refused(nonsense):
    with pytest.raises(ComputeError) as caught:
        number("length_mm", nonsense, unit="mm")
    assert caught.value.field == "length_mm"


@pytest.mark.parametrize("welcome", [3, 3.0, Decimal("3"), Fraction(3)])
def test_every_honest_kind_of_number_comes_back_as_a_float(welcome):
    assert number("length_mm", welcome) == 3.0
    assert isinstance(number("length_mm", welcome), float)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_passes_exactly_when_it_lies_inside_its_limits(value):
    def passes(**limits: float) -> bool:
        try:
            return number("x", value, **limits) == value
        except ComputeError:
            return False

    assert passes(at_least=0, at_most=100) == (0 <= value <= 100)
    assert passes(above=0, below=100) == (0 < value < 100)


def test_the_message_says_what_was_given_and_what_is_allowed():
    with pytest.raises(ComputeError, match=r"rh: got 140; allowed is a number at least 0 and at most 100 %"):
        number("rh", 140, at_least=0, at_most=100, unit="%")


@pytest.mark.parametrize("nonsense", [0, 89, 3.0, True, "4", None])
def test_a_count_must_be_a_whole_number_inside_its_limits(nonsense):
    with pytest.raises(ComputeError, match=r"whole number at least 1 and at most 88"):
        whole("note", nonsense, at_least=1, at_most=88)
    assert whole("note", 88, at_least=1, at_most=88) == 88


@pytest.mark.parametrize("nonsense", ["best", None, ["good"], {}])
def test_a_choice_must_stand_in_the_list(nonsense):
    with pytest.raises(ComputeError, match=r"one of good, fair"):
        one_of("grip", nonsense, {"good": 1, "fair": 2})


@pytest.mark.parametrize("nonsense", [[], [1, 2, 3], "ab", b"ab", 7, None])
def test_a_list_must_have_enough_and_not_too_many_entries(nonsense):
    with pytest.raises(ComputeError, match=r"a list at least 1 and at most 2 entries"):
        some("lengths", nonsense, at_most=2)
    assert some("lengths", (n for n in (5, 6)), at_most=2) == [5, 6]
