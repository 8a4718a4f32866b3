"""What was tried on paper is kept as plain data and comes back whole."""

from __future__ import annotations

from datetime import date

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopflow.planning.measures import HoldBack, LendAHand, LetGoOn, WorkMore, from_data, to_data

days = st.dates(date(2026, 1, 1), date(2030, 1, 1))
ids = st.integers(1, 10_000)
measures = st.lists(
    st.one_of(
        st.builds(LendAHand, ids, ids, days, days),
        st.builds(WorkMore, ids, st.sampled_from([0.5, 1.0, 2.0, 4.0]), days, days),
        st.builds(HoldBack, ids, days),
        st.builds(LetGoOn, ids),
    ),
    max_size=6,
)


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(measures)
def test_measures_come_back_as_they_were_kept(some):
    assert from_data(to_data(some)) == some
