"""At whose bench a sheet is filled in: hands write at their own benches, the office at all."""

from __future__ import annotations

from django.db.models import Q

from shopflow.catalogue.models import Department, SheetKind
from shopflow.people import access
from shopflow.people.access import Deed, NotAllowed
from shopflow.people.models import Person, Role

# Where these sheets are filled in by habit, besides wherever an operation asks for them: scale and touch are
# also read at intake, by the final bench.
_BY_HABIT = {
    SheetKind.STRINGS: ("stringing", "final"),
    SheetKind.SOUNDBOARD: ("soundboard", "final"),
    SheetKind.ACTION: ("action", "final"),
}


def may_write(by: Person, kind: SheetKind) -> bool:
    """Whether this person may write what belongs to a sheet of this kind."""
    if not access.may(by, Deed.READINGS):
        return False
    if by.acting_role != Role.HAND:
        return True
    asked = Q(operations__sheet=kind) | Q(code__in=_BY_HABIT.get(kind, ()))
    theirs = Q(pk=by.home_id) | Q(hands=by)
    return Department.objects.filter(asked).filter(theirs).exists()


def require_write(by: Person, kind: SheetKind) -> None:
    if not may_write(by, kind):
        raise NotAllowed(by, Deed.READINGS, f"the {kind.label} sheet belongs to other benches")
