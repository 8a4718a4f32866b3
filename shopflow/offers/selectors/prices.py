"""The shop's prices for one kind of instrument, as its terms, bands and finished work stand now."""

from __future__ import annotations

from collections.abc import Iterable

from shopflow.catalogue.models import MaterialBand, Operation
from shopflow.offers.pricing import Prices
from shopflow.workshop.selectors.hours_seen import learned_hours

from .terms import the_terms


def prices_for(kind: str, operations: Iterable[Operation]) -> Prices:
    """Three queries."""
    bands = {band.code: band for band in MaterialBand.objects.all()}
    return Prices(kind, the_terms(), bands, learned_hours(operations, kind))
