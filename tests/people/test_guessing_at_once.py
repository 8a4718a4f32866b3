"""A hundred guesses sent at the same moment are looked at no more than ten times."""

from __future__ import annotations

import pytest

from shopflow.people import throttle
from shopflow.people.devices import Device
from tests import cast
from tests.common.practice import all_at_once

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.data_layer]


def test_only_ten_of_many_simultaneous_tries_are_looked_at():
    finn = cast.finisher()
    device = Device("tablet:1", is_tablet=True)

    def guess() -> bool:
        try:
            throttle.take_turn(who=finn.sign_in_name, device=device)
        except throttle.TooManyTries:
            return False
        return True

    assert sum(all_at_once(guess, hands=30)) == throttle.TRIES
