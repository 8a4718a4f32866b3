"""Questions about who works here."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db.models import Sum

from .models import Person, Role, Tablet, WorkingDay


def weekly_hours_by_department() -> dict[int, Decimal]:
    """Paid hours a week by home department (its id), of everybody who works here now."""
    rows = (
        WorkingDay.objects.filter(person__is_active=True, person__home__isnull=False)
        .exclude(person__role=Role.STRANGER)
        .values_list("person__home")
        .annotate(total=Sum("hours"))
        .order_by()
    )
    return dict(rows)


def names_for(tablet: Tablet) -> tuple[list[Person], list[Person]]:
    """Who may be standing at this tablet: the people of its department, then everybody else. Two queries."""
    people = list(Person.objects.working().prefetch_related("benches"))
    near = [person for person in people if _works_at(person, tablet.department_id)]
    return near, [person for person in people if person not in near]


def _works_at(person: Person, department_id: int | None) -> bool:
    at = {person.home_id, *(bench.pk for bench in person.benches.all())}
    return department_id is not None and department_id in at


def staff_list() -> dict[str, Any]:
    """Everybody, with paid hours a week: who may come in, and who is stopped."""
    people = Person.objects.select_related("home").prefetch_related("benches")
    people = people.annotate(weekly=Sum("working_days__hours"))
    return {
        "here": [person for person in people if person.is_active],
        "stopped": [person for person in people if not person.is_active],
    }


def is_last_owner(person: Person) -> bool:
    owners = Person.objects.working().filter(role=Role.OWNER)
    return person.role == Role.OWNER and person.is_active and not owners.exclude(pk=person.pk).exists()
