"""What the story of an instrument tells of its bench sheets: rests that were set, and those cut short."""

from __future__ import annotations

from shopflow.workshop.selectors.story import Told, tell_too

from .models import CureSet


def tell() -> None:
    tell_too(
        "cure",
        Told(
            rows=lambda instrument: CureSet.objects.filter(task__instrument=instrument),
            at="at",
            read=CureSet.objects.select_related("task__department", "by"),
        ),
    )
