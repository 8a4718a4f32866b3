from __future__ import annotations

import pytest

from shopflow.catalogue.services import load_trade
from tests import cast


@pytest.fixture
def maud(db):
    """The manager of a shop with the trade's whole catalogue."""
    cast.shop()
    load_trade()
    return cast.manager()


@pytest.fixture
def office(client, maud):
    client.force_login(maud)
    return client
