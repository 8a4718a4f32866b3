"""What hands type for one string: sizes, diameters, lengths, in any spelling, or named as what it is."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopflow.compute.strings import MUSIC_WIRE_METRIC_MM, MUSIC_WIRE_MM
from shopflow.readings.measures import NotAMeasure
from shopflow.readings.note_cells import CellsRefused, cells_of, read_cells, shown_cells
from shopflow.readings.wires import read_wire

PLAIN = {"note": "49", "strings": "3", "length_mm": "400", "wire": "16"}


# Sizes: thousandths of an inch = 5 + 2 x size, half sizes too (list messages of November 2004); the metric
# series has the same numbers on other wire (technicians' list, June 2003).
@pytest.mark.parametrize(
    ("typed", "gauge", "mm", "size"),
    [
        ("16", "inch", 0.037 * 25.4, 16), ("16.5", "inch", 0.038 * 25.4, 16.5),
        ("16,5", "inch", 0.9652, 16.5),
        ("16½", "inch", 0.9652, 16.5), ("１６", "inch", 0.9398, 16), ("no. 13", "inch", 0.7874, 13),
        ("12", "metric", 0.725, 12), ("20", "metric", 1.125, 20),
        ("0.94", "inch", 0.94, None), ("0,94 mm", "inch", 0.94, None), (".037 in", "inch", 0.9398, None),
    ],
)  # fmt: skip
def test_wire_is_read_by_size_or_diameter(typed, gauge, mm, size):
    assert read_wire(typed, gauge=gauge) == (pytest.approx(mm), size)


def test_a_bare_thousandth_is_an_inch_only_in_an_inch_shop():
    assert read_wire("0.037", gauge="inch", units="inch").mm == pytest.approx(0.9398)
    with pytest.raises(NotAMeasure):
        read_wire("0.037", gauge="inch", units="metric")


@pytest.mark.parametrize(
    "typed", ["-3", "1e400", "NaN", "Infinity", "11", "16.25", "99", "5", "sixteen", "16 kg"]
)
def test_what_is_no_wire_is_told_with_what_is_allowed(typed):
    with pytest.raises(NotAMeasure) as caught:
        read_wire(typed, gauge="inch")
    assert str(caught.value)


@pytest.mark.parametrize(
    ("column", "typed"),
    [
        ("note", "0"), ("note", "89"), ("note", "4.5"), ("strings", "0"), ("strings", "9"), ("strings", ""),
        ("length_mm", "-3"), ("length_mm", "1e400"), ("length_mm", "NaN"), ("length_mm", "19"),
        ("length_mm", "3001"), ("length_mm", "400 kg"), ("length_mm", ""), ("wire", ""), ("wire", "7"),
        ("cover_mm", "13"), ("cover_mm", "0.5"), ("ends", "knot"), ("overall_mm", "300"),
        ("section", "a word of more than twenty letters"),
    ],
)  # fmt: skip
def test_a_wrong_cell_is_named_with_what_was_given(column, typed):
    with pytest.raises(CellsRefused) as caught:
        read_cells(PLAIN | {column: typed}, gauge="inch")
    assert [fault.column for fault in caught.value.faults] == [column]
    assert all(fault.allowed for fault in caught.value.faults)


def test_every_wrong_cell_is_named_at_once():
    with pytest.raises(CellsRefused) as caught:
        read_cells({"note": "x", "strings": "x", "length_mm": "x", "wire": "x"}, gauge="inch")
    assert {fault.column for fault in caught.value.faults} == {"note", "strings", "length_mm", "wire"}


def test_ends_are_as_usual_where_nothing_is_said():
    assert read_cells(PLAIN, gauge="inch").ends == "round"
    assert read_cells(PLAIN | {"cover_mm": "3"}, gauge="inch").ends == "loop"
    assert read_cells(PLAIN | {"ends": "LOOP"}, gauge="inch").ends == "loop"


def test_inches_and_fractions_are_kept_as_millimetres():
    assert read_cells(PLAIN | {"length_mm": "25 3/8 in"}, gauge="inch").length_mm == 644.525
    assert read_cells(PLAIN | {"length_mm": "25 3/8"}, gauge="inch", units="inch").length_mm == 644.525
    assert read_cells(PLAIN | {"length_mm": "645 mm"}, gauge="inch", units="inch").length_mm == 645


sizes = st.sampled_from(sorted(MUSIC_WIRE_MM))
lengths = st.integers(200_000, 29_999_999).map(lambda n: n / 10_000)


# A busy machine draws slowly; that says nothing of the cells.
@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(
    st.integers(1, 88),
    lengths,
    st.one_of(sizes.map(str), st.integers(300, 3000).map(lambda n: f"{n / 1000} mm")),
    st.sampled_from(["metric", "inch"]),
    st.text(max_size=20),
)
def test_cells_go_there_and_back(note, length, wire, gauge, section):
    if gauge == "metric" and "mm" not in wire and float(wire) not in MUSIC_WIRE_METRIC_MM:
        return
    cells = {
        "note": str(note),
        "strings": "2",
        "length_mm": f"{length:.4f}",
        "wire": wire,
        "section": section,
    }
    first = read_cells(cells, gauge=gauge)
    assert read_cells(cells_of(first), gauge=gauge) == first


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(lengths, sizes)
def test_what_a_form_shows_reads_back_to_the_same_string(length, size):
    first = read_cells(PLAIN | {"length_mm": f"{length:.4f}", "wire": str(size)}, gauge="inch")
    assert read_cells(shown_cells(first, "metric") | {"note": "49"}, gauge="inch") == first
    again = read_cells(shown_cells(first, "inch") | {"note": "49"}, gauge="inch", units="inch")
    assert again.length_mm == pytest.approx(first.length_mm, abs=0.0002)
    assert (again.wire_mm, again.wire_size) == (first.wire_mm, first.wire_size)
