"""What stops work in the demo is said only of work that it can stop."""

from __future__ import annotations

import random

from shopflow.demo.stops import OUTSIDE, SETTLED, STOPS, stop_for
from tests.catalogue_data import data_from_fixtures


def test_every_reason_names_work_that_there_is():
    known = set(data_from_fixtures()["operations"])
    assert STOPS
    for stop in STOPS:
        assert stop.operations <= known, stop.reason
        assert stop.cause in SETTLED


def test_only_what_fits_stops_a_piece_of_work():
    rng = random.Random(3)
    for _ in range(50):
        stop = stop_for("hammers-hang", rng)
        assert stop is not None
        assert "hammers-hang" in stop.operations
    assert stop_for("rub-out", rng).reason == "still prints under the thumb"
    assert stop_for("survey", rng) is None


def test_nobody_outside_is_named():
    assert set(OUTSIDE.values()) == {"the owner", "the supplier"}
