"""Plating against published electrochemical tables and worked examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.compute.errors import ComputeError
from shopflow.compute.plating import (
    DEPOSITS,
    FARADAY_C_PER_MOL,
    Deposit,
    current_a_dm2,
    thickness_um,
    time_for,
)

CM3_PER_FT2_MIL = 2.359737  # one square foot by a thousandth of an inch
A_DM2_PER_A_FT2 = 0.107639

names = st.sampled_from(sorted(DEPOSITS))
efficiencies = st.floats(1, 100)


# A plating supplier's table: grams per ampere-hour and ampere-hours per ft² per mil; a manufacturing tutorial
# (2013): µm per A·min/dm². The tolerances are those at which the printed figures agree with their own
# densities.
@pytest.mark.parametrize(
    ("name", "grams_per_ah", "ah_per_ft2_mil", "ah_tolerance", "um_per_a_min_dm2"),
    [
        ("nickel", 1.095, 19.0, 0.01, 0.205),
        ("copper, acid", 1.186, 17.8, 0.005, 0.222),
        ("copper, cyanide", 2.37, 8.89, 0.005, 0.443),
        ("chromium", 0.323, 51.8, 0.02, 0.076),  # printed with density 7.1, not the 7.2 beside it
        ("silver", 4.024, 6.2, 0.01, 0.639),
        ("gold", 7.348, 6.2, 0.005, 0.635),
        ("tin", 2.214, 7.8, 0.005, 0.506),
        ("zinc", 1.219, 14.3, 0.04, 0.286),  # printed with density 7.4, not the 7.14 beside it
    ],
)
def test_equivalents_meet_the_printed_tables(
    name, grams_per_ah, ah_per_ft2_mil, ah_tolerance, um_per_a_min_dm2
):
    deposit = DEPOSITS[name]
    assert deposit.grams_per_ah == pytest.approx(grams_per_ah, rel=0.0013)
    ampere_hours = deposit.density_g_cm3 * CM3_PER_FT2_MIL / deposit.grams_per_ah
    assert ampere_hours == pytest.approx(ah_per_ft2_mil, rel=ah_tolerance)
    assert deposit.um_per_a_min_dm2 == pytest.approx(um_per_a_min_dm2, rel=0.016)


def test_platinum_needs_its_true_density():
    """One table prints density 32.41 for platinum beside 27.8 Ah/ft²/mil; about 21.4 gives that figure."""

    def ampere_hours(density: float) -> float:
        return density * CM3_PER_FT2_MIL / Deposit("platinum", 195.09, 4, density).grams_per_ah

    assert ampere_hours(21.4) == pytest.approx(27.8, abs=0.1)
    with pytest.raises(ComputeError, match="density_g_cm3"):
        Deposit("platinum", 195.09, 4, 32.41)


def test_nickel_example_with_a_printed_constant():
    """40 A/m², 2 h, k = 30.4e-8 kg/C, 8900 kg/m³: 9.84 µm printed."""
    as_printed = Deposit("nickel, printed constant", 30.4e-5 * 2 * FARADAY_C_PER_MOL, 2, 8.9)
    assert thickness_um(as_printed, 0.4, 120, 100) == pytest.approx(9.84, abs=0.005)
    assert thickness_um("nickel", 0.4, 120, 100) == pytest.approx(9.84, abs=0.01)


def test_losses_make_a_deposit_thinner_not_thicker():
    """Plate 130 x 160 x 3.2 mm, 25 A, 1 h, 95 %: 0.0673 mm. A public answer divides by 0.95: 0.0744."""
    area_cm2 = 2 * (13 * 16 + 13 * 0.32 + 16 * 0.32)
    assert area_cm2 == pytest.approx(434.56)
    ours_mm = thickness_um("nickel", current_a_dm2(25, area_cm2), 60, 95) / 1000
    assert ours_mm == pytest.approx(0.0673, abs=0.0001)
    assert abs(ours_mm - 0.0744) > 0.005


# Worked by hand from Faraday's law.
@pytest.mark.parametrize(
    ("name", "a_dm2", "minutes", "efficiency", "um"),
    [("nickel", 4, 30, 95, 23.376), ("copper, acid", 3, 40, 100, 26.462), ("chromium", 15, 5, 15, 0.842)],
)
def test_thickness_worked_by_hand(name, a_dm2, minutes, efficiency, um):
    assert thickness_um(name, a_dm2, minutes, efficiency) == pytest.approx(um, rel=3e-4)


def test_time_by_the_printed_ampere_hours():
    """0.3 mil nickel at 40 A/ft², 95 %, 19 Ah/ft²/mil: 9.0 min (by hand; 19.17 unrounded gives 9.08)."""
    assert time_for("nickel", 0.3 * 25.4, 40 * A_DM2_PER_A_FT2, 95) == pytest.approx(9.0, abs=0.1)


@given(names, st.floats(0, 1000), st.floats(0.01, 100), efficiencies)
def test_time_for_undoes_thickness(name, um, a_dm2, efficiency):
    minutes = time_for(name, um, a_dm2, efficiency)
    if minutes <= 100_000:
        assert thickness_um(name, a_dm2, minutes, efficiency) == pytest.approx(um, rel=1e-9, abs=1e-12)


@given(names, st.floats(0, 100), st.floats(0, 1000), efficiencies)
def test_twice_the_current_grows_as_much_as_twice_the_time(name, a_dm2, minutes, efficiency):
    by_current = thickness_um(name, 2 * a_dm2, minutes, efficiency)
    assert by_current == pytest.approx(thickness_um(name, a_dm2, 2 * minutes, efficiency))
    assert by_current == pytest.approx(2 * thickness_um(name, a_dm2, minutes, efficiency))


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: thickness_um("unobtainium", 4, 30, 95), "deposit"),
        (lambda: thickness_um(None, 4, 30, 95), "deposit"),
        (lambda: thickness_um("nickel", -1, 30, 95), "current_a_dm2"),
        (lambda: thickness_um("nickel", 4, -1, 95), "minutes"),
        (lambda: thickness_um("nickel", 4, 30, 0), "efficiency_percent"),
        (lambda: thickness_um("nickel", 4, 30, 101), "efficiency_percent"),
        (lambda: time_for("nickel", -1, 4, 95), "thickness_um"),
        (lambda: time_for("nickel", 10, 0, 95), "current_a_dm2"),
        (lambda: current_a_dm2(-1, 100), "current_a"),
        (lambda: current_a_dm2(1, 0), "area_cm2"),
        (lambda: Deposit("air", 0, 1, 1), "molar_mass_g"),
        (lambda: Deposit("air", 29, 0, 1), "electrons"),
    ],
)
def test_nonsense_is_named(call, field):
    with pytest.raises(ComputeError) as caught:
        call()
    assert caught.value.field == field
