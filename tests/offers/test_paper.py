"""Papers for customers: whatever a person typed is printed as it stands."""

from __future__ import annotations

import shutil
import subprocess

import pytest

from shopflow.catalogue.models import Shop, Terms
from shopflow.offers import paper

HOSTILE = [
    '#import "x": *',
    "<script>alert(1)</script>",
    "$x^2$ `raw` @ref",
    "= heading \\ *bold*",
    "#eval(1)",
]
SHOP = Shop(name=HOSTILE[0], town="Quillmere", address="Harbour Road\n" + HOSTILE[1], is_demo=True)

LAYOUT = """#import "letter.typ": *
#let d = data()
#show: letter.with(d)
= Try
#prose(d.words)
#ruled((1fr, 1fr), (left, left), ("a", "b"), d.rows)
"""


@pytest.fixture
def layout(tmp_path, monkeypatch):
    shutil.copytree(paper.LAYOUTS, tmp_path / "paper")
    (tmp_path / "paper" / "try.typ").write_text(LAYOUT)
    monkeypatch.setattr(paper, "LAYOUTS", tmp_path / "paper")
    return "try.typ"


def sheet(layout: str, **words: object) -> paper.Paper:
    head = paper.letter_head(
        shop=SHOP,
        terms=Terms(letter_foot=HOSTILE[4]),
        kind="Try",
        number="214/1",
        date="today",
        to=HOSTILE[3],
    )
    return paper.Paper("try", layout, {"letter": head, "words": HOSTILE[2], "rows": []} | words)


@pytest.mark.skipif(not shutil.which("pdftotext"), reason="no pdftotext on this machine")
def test_nothing_that_was_typed_is_read_as_markup(layout):
    file = paper.pdf(sheet(layout, rows=[[one, one] for one in HOSTILE]))
    said = subprocess.run(
        ["pdftotext", "-raw", str(file), "-"], capture_output=True, check=True
    ).stdout.decode()
    plain = "".join(said.split()).replace(paper._ZERO_WIDTH_SPACE, "")
    assert [one for one in HOSTILE if "".join(one.split()) not in plain] == []


def test_the_same_words_are_set_once_and_other_words_again(layout):
    first, again = paper.pdf(sheet(layout)), paper.pdf(sheet(layout))
    assert first == again
    assert first.parent.stat().st_mode & 0o077 == 0
    assert paper.pdf(sheet(layout, words="other")) != first
    assert first.read_bytes().startswith(b"%PDF-")
