"""Deeds with crates: pack, move, count out and in. Each writes one line of the crate's ledger.

`tally` reckons what a line means, `book` writes it once for each tap, `packing` and `counting` are the deeds.
"""

from .book import CrateMovedOn, differences
from .counting import count_in, count_out, count_over, put_right
from .packing import Part, empty_crate, make_crate, move_crate, next_number, open_crate, pack

__all__ = [
    "CrateMovedOn",
    "Part",
    "count_in",
    "count_out",
    "count_over",
    "differences",
    "empty_crate",
    "make_crate",
    "move_crate",
    "next_number",
    "open_crate",
    "pack",
    "put_right",
]
