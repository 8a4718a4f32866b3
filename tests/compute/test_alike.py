"""What things of one group have in common, against a published table."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopflow.compute.alike import shared_share
from shopflow.compute.errors import ComputeError


def test_the_published_table_gives_the_published_share():
    # P. E. Shrout, J. L. Fleiss, Psychological Bulletin 86 (1979) 420-428, Table 2 (six targets, four judges,
    # from memory) and ICC(1,1) = .17; by hand (11.24 - 6.26) / (11.24 + 3 x 6.26) = 0.166.
    ratings = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
    assert shared_share(ratings, prior_groups=0) == pytest.approx(0.166, abs=5e-4)


def test_groups_of_unequal_size_give_the_share_they_were_made_with():
    dice = np.random.default_rng(5)
    groups = [dice.normal(dice.normal(0, 0.3), 0.4, size=2 + number % 19) for number in range(3000)]
    assert shared_share(groups, prior_groups=0) == pytest.approx(0.09 / 0.25, abs=0.02)


def test_thin_evidence_stays_near_the_prior_and_much_of_it_leaves_it():
    alike = [[1.0, 1.0, 1.1], [5.0, 5.0, 5.1]]
    assert 0.5 < shared_share(alike) < 0.6
    assert shared_share([[number, number + 0.01] for number in range(200)]) > 0.9


def test_figures_that_differ_only_within_groups_share_nothing():
    assert shared_share([[0, 1], [0, 1], [0, 1]], prior_groups=0) == 0.0
    assert shared_share([[2, 2], [2, 2]], prior_groups=0) == 0.0


def test_groups_of_one_tell_nothing():
    assert shared_share([[1], [2], [3]], prior=0.4) == 0.4


def test_senseless_figures_are_refused():
    with pytest.raises(ComputeError, match="groups"):
        shared_share([[1, math.nan], [1, 2]])
