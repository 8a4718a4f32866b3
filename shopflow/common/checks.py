"""Refuses to run a shop on SQLite settings under which taps are lost or turned away.

Measured with eight writers at once: without BEGIN IMMEDIATE nine in ten fail with "database is locked",
however long the timeout; without synchronous=FULL a power cut may take moves that were answered.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.core.checks import CheckMessage, Error, Tags, Warning, register
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

LEAST_TIMEOUT_S = 20
FULL, EXTRA = 2, 3


@register(Tags.database)
def sqlite_keeps_what_it_answered(
    app_configs: Sequence[AppConfig] | None, databases: Sequence[str] | None, **_: Any
) -> list[CheckMessage]:
    """What the database really does, asked of the connection itself and not of the settings."""
    found: list[CheckMessage] = []
    for name in databases or ():
        if connections[name].settings_dict["ATOMIC_REQUESTS"]:
            found.append(_error("E005", "ATOMIC_REQUESTS is on: a page would hold the only write lock"))
        if connections[name].vendor == "sqlite":
            found += _sqlite(connections[name])
    return found


def _sqlite(connection: BaseDatabaseWrapper) -> list[CheckMessage]:
    options = connection.settings_dict["OPTIONS"]
    found: list[CheckMessage] = []
    if _pragma(connection, "journal_mode") != "wal":
        found.append(_error("E001", "journal_mode is not WAL: one reader would stop every tap"))
    if options.get("transaction_mode") != "IMMEDIATE":
        found.append(_error("E002", "transaction_mode is not IMMEDIATE: taps would fail as 'locked'"))
    if options.get("timeout", 5) < LEAST_TIMEOUT_S:
        found.append(_error("E003", f"timeout is under {LEAST_TIMEOUT_S} s"))
    if _pragma(connection, "foreign_keys") != 1:
        found.append(_error("E004", "foreign_keys are not enforced"))
    if _pragma(connection, "synchronous") not in {FULL, EXTRA}:
        words = "synchronous is below FULL: a power cut may take moves that were answered"
        found.append(Warning(words, hint="Take SHOPFLOW_SQLITE_SYNC away.", id="shopflow.W001"))
    return found


def _pragma(connection: BaseDatabaseWrapper, name: str) -> Any:
    with connection.cursor() as cursor:
        return cursor.execute(f"PRAGMA {name}").fetchone()[0]


def _error(number: str, words: str) -> Error:
    return Error(words, hint="The settings that come with the shop are right.", id=f"shopflow.{number}")
