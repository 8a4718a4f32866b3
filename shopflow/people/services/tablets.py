"""The shop's tablets as the office keeps them: added, named, given to a bench, measured."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.edits import mark_of, refuse_stale
from shopflow.people.models import Person, Tablet


def facts_of(tablet: Tablet) -> dict[str, Any]:
    return {
        "name": tablet.name,
        "department": tablet.department_id,
        "pixels_per_mm": f"{float(tablet.pixels_per_mm):.2f}",
    }


def version_of(tablet: Tablet) -> str:
    return mark_of(facts_of(tablet))


def add_tablet(*, by: Person, **given: Any) -> Tablet:
    access.require(by, Deed.PEOPLE)
    return Tablet.objects.create(**given)


@transaction.atomic
def change_tablet(*, tablet_id: int, seen: str, by: Person, **given: Any) -> Tablet:
    """Keep what was typed, unless someone else saved since `seen`."""
    access.require(by, Deed.PEOPLE)
    tablet = Tablet.objects.select_for_update().get(pk=tablet_id)
    now = facts_of(tablet)
    for name, value in given.items():
        setattr(tablet, name, value)
    refuse_stale(now=now, wanted=facts_of(tablet), seen=seen)
    tablet.save(update_fields=list(given))
    return tablet
