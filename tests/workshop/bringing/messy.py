"""Lists as shops keep them: a shop's truth, written down by somebody in a hurry, with faults in known places.

The truth is made first, then a file is made of it in some style, with a noise that changes nothing and with
faults that have to be found. The writer knows nothing of the reader: it counts its own lines.
"""

from __future__ import annotations

import csv
import io
import random
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

MAKERS = ["Ostrander & Vale", "Bexcombe", "Corvane Brothers", "Thistledown", "Harrow-Lisle", "Gebrüder Ähren"]
FINISHES = ["ebonised", "rosewood, inlaid", "walnut; figured", 'oak "barley twist" legs', "mahogany", ""]
NAMES = [
    "Perdita Lanyon",
    "Jonas Withey",
    "Zoë Ångmar",
    "Elspeth Marrow",
    "François Peverell",
    "Mina O'Shott",
]
# Code or name of the trade's catalogue, and the stages before it is signed.
WORK = [
    ("strip", "Strip the old finish", ["on the rack", "stripped"]),
    ("build-lacquer", "Build up lacquer", ["on the rack", "sealed", "built up"]),
    ("rub-out", "Rub out", ["on the rack", "rubbed out", "proving"]),
    ("hw-prep", "Prepare for plating", ["on the rack", "ground"]),
    ("keys-rebush", "Rebush the keys", ["on the rack", "parted", "renewed", "glue-up", "set up", "proving"]),
    ("board-dry", "Dry the soundboard down", ["on the rack", "opened", "drying down"]),
    ("chip", "Chip tunings", ["on the rack", "chipped", "settling"]),
]
OWN_WORK = ["Make a new fret", "Fit the customer's lamp", "Glue, then wait"]
HEADS = {
    "number": ["number", "No.", "Piano no"],
    "kind": ["kind", "KIND", " Type"],
    "maker": ["maker", "Mfr.", "Brand"],
    "serial": ["serial", "Ser. No.", "serial_number"],
    "year": ["year", "Year built"],
    "size_cm": ["size_cm", "Size cm", "length in cm"],
    "finish": ["finish", "Finish"],
    "arrived_on": ["arrived_on", "Arrived", "date in"],
    "promised_on": ["promised_on", "Due date"],
    "customer": ["customer", "Owner"],
    "customer_email": ["customer_email", "E-mail"],
    "task": ["task", "Work to do"],
    "department": ["department", "Dept."],
    "stage": ["stage", "Stage"],
    "hours_likely": ["hours_likely", "Hours", "est. hours"],
    "note": ["note", "Remarks"],
}
TASK = ("task", "department", "stage", "hours_likely", "note")


@dataclass(frozen=True)
class Style:
    separator: str = ","
    encoding: str = "utf-8"
    days: str = "%Y-%m-%d"
    comma: bool = False
    end: str = "\r\n"
    quoting: int = csv.QUOTE_MINIMAL


STYLES = {
    "plain": Style(),
    "semicolons with a mark": Style(";", "utf-8-sig", "%d.%m.%Y", comma=True),
    "tabs in UTF-16": Style("\t", "utf-16", "%d/%m/%Y", end="\n"),
    "UTF-16 big end without a mark": Style(";", "utf-16-be", "%m/%d/%Y", end="\n"),
    "old Windows": Style(";", "cp1252", "%d/%m/%Y", comma=True),
    # All quoted, since Python's writer quotes a break inside a cell only if lines end with that same break.
    "Latin-1 and strokes": Style("|", "latin-1", "%d.%m.%Y", end="\r", quoting=csv.QUOTE_ALL),
    "all quoted, month first": Style(",", "utf-8", "%m/%d/%Y", comma=True, quoting=csv.QUOTE_ALL),
    "months by name": Style("\t", "utf-8", "%d %b %Y", end="\n"),
}


@dataclass
class Messy:
    """A file, where its faults are, and the truth it was made of."""

    data: bytes
    faults: set[tuple[int, str]]
    truth: list[dict[str, Any]]
    alike: set[str] = field(default_factory=set)
    extra: set[str] = field(default_factory=set)

    @property
    def tasks(self) -> int:
        return sum(len(piano["tasks"]) for piano in self.truth)


def truth_of(rng: random.Random, count: int) -> list[dict[str, Any]]:
    return [_piano(rng, number) for number in range(601, 601 + count)]


def _piano(rng: random.Random, number: int) -> dict[str, Any]:
    arrived = date(2023, 1, 2) + timedelta(days=rng.randrange(600))
    name = rng.choice(NAMES)
    return {
        "number": str(number) if rng.random() < 0.8 else f"Q-{number}",
        "kind": rng.choice(["upright", "grand"]),
        "maker": rng.choice(MAKERS),
        "serial": f"{rng.randrange(2, 9)}{number}{rng.randrange(10)}",
        "year": rng.randrange(1880, 1990),
        "size_cm": rng.randrange(110, 275),
        "finish": rng.choice(FINISHES),
        "arrived_on": arrived,
        "promised_on": arrived + timedelta(days=rng.randrange(60, 500)) if rng.random() < 0.7 else "",
        "customer": name,
        "customer_email": f"{name.split()[0].lower().replace('ç', 'c').replace('ë', 'e')}@post.example",
        "tasks": _tasks(rng),
    }


def _tasks(rng: random.Random) -> list[dict[str, Any]]:
    tasks = []
    for code, name, stages in rng.sample(WORK, rng.randrange(0, 6)):
        stage = rng.choice(stages)
        tasks.append(
            {
                "task": rng.choice([code, name, name.upper()]),
                "means": code,
                "stands": stage,
                "stage": "" if stage == "on the rack" and rng.random() < 0.5 else stage,
                "hours_likely": rng.choice(["", 4, 7.5, 12.25]),
                "note": rng.choice(["", "", "lid first\nthen the legs", "ask; then wait, please"]),
            }
        )
    if rng.random() < 0.2:
        own = {"task": rng.choice(OWN_WORK), "department": "Refinishing", "means": "", "stands": "mended"}
        tasks.append(own | {"stage": "mended", "hours_likely": 3, "note": ""})
    return tasks


def written(seed: int, style: Style, *, count: int = 150, faulty: bool = True) -> Messy:
    """The same seed gives the same truth and the same noise, with faults or without."""
    rng, noise, wrong = random.Random(seed), random.Random(seed + 1), random.Random(seed + 2)
    truth = truth_of(rng, count)
    columns = list(HEADS)
    noise.shuffle(columns)
    # A title that old spreadsheets carry along, and a column of ticks that nobody remembers.
    extra = {"Insured value", "x"}
    heads = [noise.choice(HEADS[name]) for name in columns]
    lines, faults = [[*heads, *sorted(extra)]], set()
    at = _heights(lines[0], style)
    out: list[str] = [_line(lines[0], style)]
    line = 1 + at
    for piano in truth:
        for row in _rows(piano, noise):
            if noise.random() < 0.05:
                out.append(noise.choice(["", style.separator * 3, "  " + style.separator]) + style.end)
                line += 1
            cells = {name: _written(row.get(name, ""), style) for name in columns}
            if faulty and wrong.random() < 0.08:
                name = _spoil(cells, row, wrong)
                if name:
                    faults.add((line, name))
            said = [_noisy(cells[name], name, noise) for name in columns]
            said += [noise.choice(["", "1,500"]), noise.choice(["", "x"])]
            said += [""] * noise.choice([0, 0, 3])
            text = _line(said, style)
            out.append(text)
            line += _heights(said, style)
    return Messy("".join(out).encode(style.encoding), faults, truth, extra=extra)


def _rows(piano: dict[str, Any], noise: random.Random) -> list[dict[str, Any]]:
    """A row per task; what is told of the instrument is told on each of them, or once."""
    facts = {name: value for name, value in piano.items() if name != "tasks"}
    if not piano["tasks"]:
        return [facts]
    again = facts if noise.random() < 0.5 else noise.choice([{}, {"number": piano["number"]}])
    return [(facts if place == 0 else again) | task for place, task in enumerate(piano["tasks"])]


def _written(value: Any, style: Style) -> str:
    if isinstance(value, date):
        return value.strftime(style.days)
    if isinstance(value, float):
        return str(value).replace(".", ",") if style.comma else str(value)
    return str(value)


def _noisy(cell: str, name: str, noise: random.Random) -> str:
    """The same to a reader: blanks, blanks that do not break, capitals."""
    if not cell or noise.random() > 0.15:
        return cell
    if name == "kind":
        return noise.choice([cell.upper(), f" {cell} ", cell.capitalize()])
    return noise.choice([f"  {cell}", f"{cell} ", f"\u00a0{cell}"])


def _spoil(cells: dict[str, str], row: dict[str, Any], wrong: random.Random) -> str:
    """Put one fault into a row that tells of an instrument or of a task; its column, if there was a place."""
    faults = {
        "kind": ["pianola", "grnad", "up right?"],
        "year": ["1904 (approx.)", "19O4", "21", "-1904"],
        "size_cm": ["6 ft 2", "1500", "see card"],
        "arrived_on": ["30/02/2024", "yesterday", "45231", "2999-01-01"],
        "customer_email": ["not known", "a@b@c"],
        "task": ["polish the moon"],
        "stage": ["somewhere", "signed"],
        "hours_likely": ["two", "-3", "1e400", "NaN", "1.234,5"],
    }
    there = [name for name in faults if cells[name] and (name != "task" or not row.get("department"))]
    if not there:
        return ""
    name = wrong.choice(there)
    cells[name] = wrong.choice(faults[name])
    return name


def _line(cells: list[str], style: Style) -> str:
    held = io.StringIO()
    csv.writer(held, delimiter=style.separator, lineterminator=style.end, quoting=style.quoting).writerow(
        cells
    )
    return held.getvalue()


def _heights(cells: list[str], style: Style) -> int:
    """How many lines of the file this row takes."""
    return 1 + sum(cell.count("\n") for cell in cells)
