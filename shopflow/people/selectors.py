"""Questions about who works here."""

from __future__ import annotations

from decimal import Decimal

from django.db.models import Sum

from .models import Role, WorkingDay


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
