"""Whatever program wrote the file, its cells and its lines are read as they are."""

from __future__ import annotations

import csv
import io
import time
from datetime import date, datetime

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.workshop.services.bringing.problems import Unreadable
from shopflow.workshop.services.bringing.reading import read_table
from shopflow.workshop.services.bringing.splitting import Row, rows

ROWS = "number;maker;note\n501;Gebrüder Ähren;Flügel – schwer\n"
CELLS = ["501", "Gebrüder Ähren", "Flügel – schwer"]


@pytest.mark.parametrize(
    ("codec", "mark", "said"),
    [
        ("utf-8", b"", ""),
        ("utf-8", b"\xef\xbb\xbf", ""),
        ("utf-16-le", b"\xff\xfe", ""),
        ("utf-16-be", b"\xfe\xff", ""),
        ("utf-16-le", b"", "UTF-16 was assumed"),
        ("utf-16-be", b"", "UTF-16 was assumed"),
        ("utf-32-le", b"\xff\xfe\x00\x00", ""),
        ("cp1252", b"", "Windows-1252 was assumed"),
    ],
)
def test_letters_are_read_in_every_spelling_and_what_was_assumed_is_said(codec, mark, said):
    table = read_table(mark + ROWS.encode(codec))
    assert table.rows[0].cells == CELLS
    assert any(said in note for note in table.notes)
    assert any("assumed" in note for note in table.notes) == bool(said)


def test_letters_that_windows_does_not_know_are_read_as_latin_1():
    table = read_table(b"number,maker\n501,B\xe4r \x81\n")
    assert table.rows[0].cells == ["501", "Bär"]
    assert any("Latin-1 was assumed" in note for note in table.notes)


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_separators_and_line_ends_are_found(separator, end):
    said = [["number", "maker", "note"], ["501", "Bexcombe", "a,b;c\td|e"], ["502", "", ""]]
    file = io.StringIO()
    csv.writer(file, delimiter=separator, lineterminator=end, quoting=csv.QUOTE_ALL).writerows(said)
    table = read_table(file.getvalue().encode())
    assert [table.head.cells, *(row.cells for row in table.rows)] == said
    assert [row.line for row in table.rows] == [2, 3]


def test_a_first_line_that_tells_the_separator_is_believed_and_counted():
    table = read_table(b"sep=;\r\nnumber;maker\r\n501;Vale, Ostrander\r\n")
    assert (table.head.line, table.rows[0].line) == (2, 3)
    assert table.rows[0].cells == ["501", "Vale, Ostrander"]


def test_lines_are_counted_through_blank_ones_and_through_cells_of_several_lines():
    table = read_table(b'\nnumber,note\n\n501,"one\r\ntwo\nthree"\n,\n502,x\n')
    assert (table.head.line, [row.line for row in table.rows]) == (2, [4, 8])
    assert table.rows[0].cells == ["501", "one\ntwo\nthree"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            'number,note\n501,"fine"\n502,"begun\n503,and so on\n504,to the end\n',
            'Line 3: the quotation mark " that opens here is never closed',
        ),
        (
            'number,note\n501,"begun\n502,"fine"\n503,x\n',
            'Line 2: the quotation mark " that opens here closes on line 3',
        ),
        ('number,note\n501,"a\nb","c\nd\n', 'Line 3: the quotation mark " that opens here is never closed'),
        ('number,note\n501,"small" wheel\n', 'Line 2: the quotation mark " that opens here closes on line 2'),
    ],
)
def test_a_quotation_mark_that_does_not_end_a_cell_is_named_by_its_line(text, words):
    with pytest.raises(Unreadable, match=words):
        read_table(text.encode())


def test_a_mark_inside_a_cell_is_only_a_letter_and_blanks_around_quotes_are_none():
    table = read_table(b'number,maker,note\n501,5" wheels, "said ""so"", twice" \n')
    assert table.rows[0].cells == ["501", '5" wheels', 'said "so", twice']


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\n  \n\n", "empty"),
        (b"number,kind\n\n", "nothing"),
        (b"%PDF-1.7 ...", "a PDF"),
        (b"\xd0\xcf\x11\xe0 old", "old workbook"),
        (b"PK\x03\x04 cut off", "cut off or damaged"),
        (b"\xff\xfen\x00\x00\xd8", "cut off or damaged"),
        (",".join(f"c{n}" for n in range(200)).encode(), "200 columns"),
    ],
)
def test_what_is_no_list_is_refused_in_words(data, words):
    with pytest.raises(Unreadable, match=words):
        read_table(data)


def test_two_hundred_thousand_rows_are_refused_quickly_and_the_limit_is_named():
    narrow = b"number,kind\n" + b"".join(b"%d,grand\n" % n for n in range(200_000))
    wide = narrow.replace(b"grand", b"grand" + b" " * 30)
    for data, words in [(narrow, "more than 20,000 rows"), (wide, "allowed are 5 MB")]:
        began = time.monotonic()
        with pytest.raises(Unreadable, match=words) as refused:
            read_table(data)
        assert refused.value.status == 413
        assert time.monotonic() - began < 5


def test_a_quote_that_is_never_closed_takes_no_longer_in_a_large_file():
    began = time.monotonic()
    with pytest.raises(Unreadable, match=r"Line 2: .* never closed"):
        read_table(b'number,note\n501,"' + b'""a,b\n' * 500_000)
    assert time.monotonic() - began < 5


@given(
    st.lists(st.lists(st.text(max_size=12), min_size=1, max_size=5), min_size=1, max_size=6),
    st.sampled_from([",", ";", "\t", "|"]),
)
def test_what_an_independent_writer_wrote_is_read_back_cell_by_cell(written, separator):
    file = io.StringIO(newline="")
    csv.writer(file, delimiter=separator, quoting=csv.QUOTE_ALL).writerows(written)
    read = list(rows(file.getvalue(), separator))
    assert [len(row.cells) for row in read] == [len(row) for row in written]
    for row, said in zip(read, written, strict=True):
        for got, cell in zip(row.cells, said, strict=True):
            if cell.isalnum() and cell.isascii():
                assert got == cell


@given(st.text(max_size=60), st.sampled_from([",", ";", "\t", "|"]))
def test_any_text_is_read_or_refused_in_words(text, separator):
    read: list[Row] = []
    try:
        read += rows(text, separator)
    except Unreadable as refused:
        words = refused.words
    else:
        words = "Line "
    assert words.startswith("Line ")
    assert all(1 <= row.line <= text.count("\n") + text.count("\r") + 1 for row in read)


def workbook(*lines):
    book = openpyxl.Workbook()
    for line in lines:
        book.active.append(line)
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def test_the_first_sheet_of_a_workbook_is_read_by_the_same_rules():
    table = read_table(
        workbook(
            ["number", "kind", "year", "arrived_on", "promised_on", "hours_likely"],
            [
                501,
                "grand",
                1904.0,
                datetime(2024, 9, 1),  # noqa: DTZ001
                date(2025, 6, 30),
                4.5,
            ],
            [],
            ["502", " upright\u00a0", "1911", None, None, True],
        )
    )
    assert [row.line for row in table.rows] == [2, 4]
    assert table.rows[0].cells == ["501", "grand", "1904", "2024-09-01", "2025-06-30", "4.5"]
    assert table.rows[1].cells == ["502", "upright", "1911", "", "", "yes"]


def test_a_formula_of_a_workbook_is_a_problem_and_never_worked_out():
    table = read_table(workbook(["number", "kind"], [501, "grand"], ["=A2+1", "grand"]))
    assert [(problem.line, problem.given) for problem in table.problems] == [(3, "=A2+1")]
