"""Readings as typed, kept and shown, in millimetres and in inches."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shopflow.catalogue import measures
from shopflow.catalogue.models import ReadingKind, Units

CROWN = ReadingKind(unit="mm", inch_unit="in", inch_factor=Decimal("25.4"), decimals=1)
AIR = ReadingKind(
    unit="°C",
    inch_unit="°F",
    inch_factor=Decimal("0.55555556"),
    inch_offset=Decimal("-17.77777778"),
    decimals=1,
)
CENTS = ReadingKind(unit="cents", decimals=0)


def test_inches_are_kept_as_millimetres_and_shown_as_inches_again():
    kept = measures.to_kept(CROWN, Decimal("0.125"), Units.INCH)
    assert kept == Decimal("3.1750")
    assert measures.in_words(CROWN, kept, Units.INCH) == "0.125 in"
    assert measures.in_words(CROWN, kept, Units.METRIC) == "3.2 mm"


def test_a_scale_with_another_nought_goes_there_and_back():
    # Water freezes at 32 °F and boils at 212 °F.
    assert measures.to_kept(AIR, Decimal(32), Units.INCH) == Decimal("0.0000")
    assert measures.to_kept(AIR, Decimal(212), Units.INCH) == Decimal("100.0000")
    assert measures.in_words(AIR, Decimal("21.1111"), Units.INCH) == "70.0 °F"


def test_what_has_no_inch_unit_is_the_same_in_every_shop():
    assert measures.to_kept(CENTS, Decimal(-50), Units.INCH) == -50
    assert measures.in_words(CENTS, Decimal(-50), Units.INCH) == "−50 cents"


def test_next_to_nothing_is_nought_without_a_sign():
    assert measures.in_words(CROWN, Decimal("-0.0100"), Units.METRIC) == "0.0 mm"


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        ("0.5", "12", "0.5 to 12 mm"),
        (None, "6", "up to 6 mm"),
        ("2", None, "at least 2 mm"),
        ("-20", "40", "−20 to 40 mm"),
        (None, None, ""),
    ],
)
def test_a_range_is_said_without_needless_noughts(low, high, words):
    ends = [None if end is None else Decimal(end).quantize(Decimal("0.001")) for end in (low, high)]
    assert measures.span(CROWN, *ends, Units.METRIC) == words


def test_without_a_usual_range_there_is_no_verdict():
    assert measures.is_usual(CROWN, Decimal(900)) is None
    assert measures.is_possible(CROWN, Decimal(900))
