"""A part on order is awaited once, however often its form is sent."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopflow.common import clock
from shopflow.planning.models import PartOnOrder
from shopflow.planning.services.waiting import order_part, part_arrived
from tests import cast

pytestmark = pytest.mark.django_db


def test_the_same_part_sent_twice_is_awaited_once_and_may_be_ordered_again_after_it_came():
    cast.shop()
    maud = cast.manager()
    task = cast.task(cast.operation(), on=cast.instrument(by=maud), by=maud)
    today = clock.today()
    said = {"task": task, "what": "bass strings", "ordered_on": today, "by": maud}
    first = order_part(**said, expected_on=today + timedelta(days=20))
    again = order_part(**said, expected_on=today + timedelta(days=20))
    assert again.pk == first.pk
    part_arrived(part=first, by=maud)
    order_part(**said, expected_on=today + timedelta(days=20))
    assert PartOnOrder.objects.count() == 2
