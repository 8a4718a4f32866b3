"""A shop does not start on database settings under which taps are lost."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.checks import Tags, run_checks
from django.db import connection

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif("connection.vendor != 'sqlite'", reason="about SQLite only"),
]


def found() -> set[str | None]:
    return {message.id for message in run_checks(tags=[Tags.database], databases=["default"])}


def test_the_settings_that_come_with_the_shop_are_in_order() -> None:
    assert found() == set()


@pytest.mark.parametrize(
    ("option", "value", "id_"),
    [("transaction_mode", "DEFERRED", "shopflow.E002"), ("timeout", 5, "shopflow.E003")],
)
def test_a_setting_that_turns_taps_away_is_refused(
    option: str, value: Any, id_: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(connection.settings_dict["OPTIONS"], option, value)
    assert found() == {id_}


def test_pages_that_would_hold_the_write_lock_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(connection.settings_dict, "ATOMIC_REQUESTS", True)
    assert found() == {"shopflow.E005"}


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("wrong", "right", "id_"),
    [
        ("foreign_keys=OFF", "foreign_keys=ON", "shopflow.E004"),
        ("synchronous=NORMAL", "synchronous=FULL", "shopflow.W001"),
    ],
)
def test_what_the_connection_really_does_is_what_counts(wrong: str, right: str, id_: str) -> None:
    with connection.cursor() as cursor:
        try:
            cursor.execute(f"PRAGMA {wrong}")
            assert found() == {id_}
        finally:
            cursor.execute(f"PRAGMA {right}")
