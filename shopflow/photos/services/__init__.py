"""Deeds with photos: take them in, put them aside, number what is on them, count what lies there."""

from .aside import bring_back, put_aside
from .counting import count_in, count_out
from .marks import Spot, change_mark, put_mark, put_part, strike_mark
from .taking import add_photo, change_photo, choose_for_customer, facts_of, make_copies, may_change

__all__ = [
    "Spot",
    "add_photo",
    "bring_back",
    "change_mark",
    "change_photo",
    "choose_for_customer",
    "count_in",
    "count_out",
    "facts_of",
    "make_copies",
    "may_change",
    "put_aside",
    "put_mark",
    "put_part",
    "strike_mark",
]
