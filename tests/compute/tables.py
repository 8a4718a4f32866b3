"""Published tables kept beside the tests: rows of a csv file whose first lines cite the source."""

import csv
from pathlib import Path

DATA = Path(__file__).parent / "data"


def rows(name):
    """All rows of a table, as dictionaries by column; lines that begin with # are its citation."""
    lines = (DATA / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))
