"""The invented pianos: nothing is written of one that its kind and its age could not have."""

from __future__ import annotations

import random

import pytest

from shopflow.demo.pianos import ALTERATIONS, FRAGILE, MAKERS, SHARES, facts
from shopflow.demo.surveys import to_be_looked_at

WORDS = {word.text: word for word in (*ALTERATIONS, *FRAGILE)}


@pytest.mark.parametrize("share", SHARES, ids=lambda share: share.route)
def test_what_is_written_fits_the_piano(share):
    rng = random.Random(7)
    for _ in range(200):
        piano = facts(rng, share)
        assert share.first <= piano["year_built"] <= share.last
        said = [WORDS[piano[name]] for name in ("alterations", "fragile") if piano[name]]
        assert all(word.fits(piano["kind"], piano["year_built"]) for word in said)
        subjects = [word.of for word in said if word.of]
        assert len(subjects) == len(set(subjects))
        assert piano["finish"]


def test_numbers_of_a_maker_rise_with_the_years():
    rng = random.Random(7)
    for maker in MAKERS:
        numbers = [int(maker.serial(year, rng)) for year in range(maker.began, maker.ended + 1)]
        assert numbers == sorted(numbers)


def test_a_piano_that_comes_to_be_looked_at_is_as_old_as_what_is_found_on_it():
    rng = random.Random(7)
    for share in to_be_looked_at():
        piano = facts(rng, share)
        assert (piano["kind"], share.first <= piano["year_built"] <= share.last) == (share.kind, True)
