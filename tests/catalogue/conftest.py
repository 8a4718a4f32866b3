from __future__ import annotations

import pytest

from shopflow.catalogue.services import load_trade
from tests import cast


@pytest.fixture
def trade(db):
    """A shop with the trade's whole catalogue."""
    cast.shop()
    load_trade()


@pytest.fixture
def maud(db):
    return cast.manager()


@pytest.fixture
def office(client, maud):
    """The manager's browser."""
    client.force_login(maud)
    return client
