"""The mark of the catalogue: whoever keeps something of it in memory sees by the mark that it has changed."""

from __future__ import annotations

from shopflow.catalogue.models import Shop
from shopflow.catalogue.models.work import fresh_version
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person


def catalogue_changed() -> None:
    Shop.objects.update(catalogue_version=fresh_version())


def setting_up(by: Person) -> None:
    """Only who may change what the shop has; what was read of the catalogue before is read anew."""
    access.require(by, Deed.SET_UP)
    catalogue_changed()
