"""The part of a sheet that shows and sets how long its task has to rest."""

from __future__ import annotations

from typing import Any

from shopflow.catalogue.models import Stage
from shopflow.catalogue.selectors import stages_by_id, the_shop
from shopflow.common import clock
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import Task

from .forms.sheet import CureForm
from .models import CureSet
from .parts import Part


def context(task: Task, viewer: Person) -> dict[str, Any]:
    """The rests on its way, the earliest touch, what was set and by whom, and the form to set it."""
    stages = stages_by_id()
    rests = [stages[pk].name for pk in task.path if stages[pk].kind == Stage.Kind.RESTING]
    hours = f"{task.least_rest_hours.normalize():f}"
    return {
        "rests": rests,
        "is_over": task.earliest_touch is not None and task.earliest_touch <= clock.now(),
        "sets": list(CureSet.objects.filter(task=task).select_related("by").order_by("-pk")),
        "rest": task.operation.rest if task.operation else None,
        "may_shorten": access.may(viewer, Deed.SHORTEN_CURE),
        "form": CureForm(units=the_shop().units, initial={"hours": hours}, auto_id="cure_%s"),
    }


PART = Part("cure", "Cure clock", "readings/_part_cure.html", context)
