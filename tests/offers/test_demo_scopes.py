"""The demo's scopes: kept for the first pianos that have something to weigh, each with another purse."""

from __future__ import annotations

import pytest

from shopflow.demo.scopes import PURSES, keep_scopes
from shopflow.offers.models import Scope

from .scope_cast import Upright

pytestmark = pytest.mark.django_db


def test_a_scope_is_kept_for_money_that_does_not_reach_far():
    there = Upright("crack", "block", "hammers", "leg")
    there.find("crack")
    keep_scopes(by=there.by)
    kept = Scope.objects.get()
    assert (kept.instrument, kept.name) == (there.instrument, PURSES[0].name)
    assert 0 < len(kept.chosen) < 5


def test_a_piano_with_little_to_weigh_has_none():
    there = Upright("crack")
    keep_scopes(by=there.by)
    assert not Scope.objects.exists()
