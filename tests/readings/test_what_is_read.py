"""What the sheets name is there in the trade's catalogue: readings, groups, cautions, operations."""

from __future__ import annotations

import pytest

from shopflow.catalogue.models import Caution, ComponentGroup, Operation, ReadingKind
from shopflow.catalogue.services import load_trade
from shopflow.readings.measures import quantity_of
from shopflow.readings.sheets import SHEETS

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def trade():
    load_trade()


@pytest.mark.parametrize("kind", sorted(SHEETS))
def test_each_sheet_names_what_is_there(kind):
    sheet = SHEETS[kind]
    assert set(sheet.reads) <= set(ReadingKind.objects.values_list("code", flat=True))
    assert set(sheet.read_groups) <= set(ComponentGroup.objects.values_list("code", flat=True))
    assert set(sheet.cautions) <= set(Caution.objects.values_list("code", flat=True))
    assert sheet.reads or sheet.read_groups
    assert Operation.objects.filter(sheet=kind).exists()


def test_each_of_the_six_benches_has_work_with_a_sheet():
    benches = set(Operation.objects.exclude(sheet="").values_list("department__code", flat=True))
    assert benches == {"final", "soundboard", "stringing", "refinishing", "plating", "action"}


def test_a_reading_is_shown_as_finely_in_inches_as_in_millimetres():
    crown = ReadingKind.objects.get(code="crown")
    quantity = quantity_of(crown)
    assert quantity.written(3.5, "metric") == "3.5 mm"
    assert quantity.written(3.5, "inch") == "0.138 in"
    torque = quantity_of(ReadingKind.objects.get(code="pin-torque"))
    assert torque.written(torque.unit("inch").kept(80), "inch") == "80.0 in·lb"
