"""Which sheets a task may be worked with, and which cautions stand on top of them."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q

from shopflow.catalogue.models import Caution, SheetKind
from shopflow.readings.parts import Sheet
from shopflow.workshop.models import Task
from shopflow.workshop.selectors.stay import stay_of
from shopflow.workshop.services.final_check import is_final_check

from .demands import sheets_for_reading_again

# Where an operation warns of one of these, something heavy is moved.
LIFTED = {"plate", "lifting", "tipping"}
REMINDER = (
    "This is a reminder, not training: follow local codes, the product’s safety data sheet and "
    "licensed practice."
)


@dataclass(frozen=True, slots=True)
class Warned:
    """A caution; the sentence that ends every one of them stands once for all."""

    caution: Caution

    @property
    def text(self) -> str:
        return self.caution.text.removesuffix(REMINDER).strip()


def kinds_for(task: Task) -> list[str]:
    """Which sheets a task may be worked with: its operation's, and lifting where something heavy is moved."""
    kinds = [own_kind(task)] if own_kind(task) else []
    codes = {caution.code for caution in task.operation.cautions.all()} if task.operation else set()
    if codes & LIFTED and SheetKind.LIFTING not in kinds:
        kinds.append(SheetKind.LIFTING)
    if is_final_check(task.operation):
        # What was read before the work is read once more, whoever's sheet it stands on.
        again = sheets_for_reading_again(task.instrument, stay_of(task.instrument))
        kinds += [sheet for sheet in again if sheet not in kinds]
    return [str(kind) for kind in kinds]


def own_kind(task: Task) -> str:
    return task.operation.sheet if task.operation else ""


def cautions_of(task: Task, sheet: Sheet) -> list[Caution]:
    """What stands on top: the cautions of the operation, of the stage it is in, of this kind of sheet."""
    wanted = Q(code__in=sheet.cautions) | Q(stages=task.stage_id)
    if task.operation_id:
        wanted |= Q(operations=task.operation_id)
    return list(Caution.objects.filter(wanted).distinct())
