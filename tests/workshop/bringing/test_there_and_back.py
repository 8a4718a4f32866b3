"""What a shop takes out is what a shop can bring in: the same list comes back as it went."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest
from django.db import connection

from shopflow.instruments.models import Instrument
from shopflow.reports.exports.files import as_csv
from shopflow.reports.exports.tables import ON_HAND, TABLES
from shopflow.workshop.services.bringing.columns import COLUMNS

from .files import bring, look, of, yes_to_all
from .messy import STYLES, written

pytestmark = pytest.mark.django_db


def taken_out():
    return b"".join(as_csv(TABLES["on-hand"], zone=ZoneInfo("Europe/London")))


def empty_the_house():
    """Another shop with the same catalogue: nothing but the list goes there."""
    with connection.cursor() as cursor:
        for table in ("move", "passage", "taskneed", "task"):
            cursor.execute(f"DELETE FROM workshop_{table}")
        cursor.execute("DELETE FROM instruments_instrument")


def test_the_columns_are_the_same():
    assert [column.name for column in COLUMNS] == ON_HAND


def test_the_list_of_one_shop_comes_into_another_as_it_is(maud):
    messy = written(7, STYLES["plain"], count=60, faulty=False)
    bring(messy.data, maud, yes_to_all(look(messy.data, maud)))
    # A cell that a spreadsheet would take for a formula, and one that only looks guarded.
    guarded = {"maker": "=Bexcombe", "place": "'-1", "kind": "grand", "task": "strip", "stage": "stripped"}
    bring(of(guarded | {"number": "999"}), maud)
    sent = taken_out()
    empty_the_house()
    plan = look(sent, maud)
    assert plan.problems == []
    assert bring(sent, maud, yes_to_all(plan)).said["brought"] == 61
    assert Instrument.objects.get(number="999").maker == "=Bexcombe"
    assert taken_out() == sent
