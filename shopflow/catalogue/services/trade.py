"""What a piano shop usually has, from the fixtures: a start that each shop changes as it likes."""

from __future__ import annotations

from django.apps import apps
from django.db import transaction

from .adding import Adding
from .version import catalogue_changed


@transaction.atomic
def load_trade() -> dict[str, int]:
    """Add what is missing of the trade's usual catalogue; returns how many rows of each kind were added.

    A row is missing when nothing in the shop bears its code. What the shop has keeps every change the shop
    made to it: a renamed stage, other hours, a retired department, an operation taken off a route.
    """
    added = Adding(lambda name: apps.get_model("catalogue", name)).everything()
    if any(added.values()):
        catalogue_changed()
    return added
