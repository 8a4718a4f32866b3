"""What a remedy adds to a job that is under way, and what it costs: now, and opened once more later."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.utils import timezone

from shopflow.catalogue.models import Operation, Remedy, Stage
from shopflow.instruments.models import Instrument
from shopflow.offers.pricing import Prices
from shopflow.workshop.models import Task

from .prices import prices_for


@dataclass(frozen=True, slots=True)
class Extra:
    """Operations that come on top, with hours, the shop's cost and the customer's price."""

    operations: list[Operation]
    hours: Decimal
    cost: Decimal
    price: Decimal


@dataclass(slots=True)
class JobUnderWay:
    """An instrument's job as a remedy meets it: what is still to be done, what is done, what stands open."""

    instrument: Instrument
    prices: Prices
    operations: dict[int, Operation] = field(default_factory=dict)
    to_do: set[int] = field(default_factory=set)
    done: set[int] = field(default_factory=set)

    @classmethod
    def of(cls, instrument: Instrument) -> JobUnderWay:
        """Read once for all remedies of a change order."""
        rows = Operation.objects.in_use().select_related("department").prefetch_related("must", "brings")
        operations = {operation.pk: operation for operation in rows}
        job = cls(instrument, prices_for(instrument.kind, operations.values()), operations)
        tasks = Task.objects.in_the_job().filter(instrument=instrument, operation__isnull=False)
        for operation, kind, at in tasks.values_list("operation_id", "stage__kind", "stage_since").order_by():
            if kind != Stage.Kind.SIGNED:
                job.to_do.add(operation)
            elif instrument.arrived_on is None or timezone.localdate(at) >= instrument.arrived_on:
                # What was signed before the piano last came in belongs to an older job.
                job.done.add(operation)
        return job

    def now(self, remedy: Remedy) -> Extra:
        """What has to be added to this job: what is planned or open anyway costs nothing more."""
        own = [one.pk for one in remedy.operations.all() if one.pk not in self.to_do]
        return self._priced(self._with_what_they_need(own, is_there=self._is_there))

    def later(self, remedy: Remedy) -> Extra:
        """The same in a job of its own: everything has to be opened and closed once more."""
        own = [one.pk for one in remedy.operations.all()]
        return self._priced(self._with_what_they_need(own, is_there=lambda pk: False))

    def _is_there(self, pk: int) -> bool:
        """To be done anyway, or done and not yet closed up again."""
        if pk in self.to_do:
            return True
        closing = {one.pk for one in self.operations[pk].brings.all() if self._applies(one)}
        return pk in self.done and not (closing and closing <= self.done)

    def _applies(self, operation: Operation) -> bool:
        return operation.hours_for(self.instrument.kind) is not None

    def _with_what_they_need(self, own: list[int], *, is_there: Callable[[int], bool]) -> list[Operation]:
        """These, what must be open for them, and what closes it again; in the order of the catalogue."""
        wanted, waiting = dict[int, Operation](), [*own]
        while waiting:
            operation = self.operations.get(waiting.pop())
            if operation is None or operation.pk in wanted or not self._applies(operation):
                continue
            wanted[operation.pk] = operation
            more = [*operation.must.all(), *operation.brings.all()]
            waiting += [one.pk for one in more if one.pk in self.operations and not is_there(one.pk)]
        return sorted(wanted.values(), key=lambda one: (one.department.position, one.pk))

    def _priced(self, operations: Sequence[Operation]) -> Extra:
        lines = [self.prices.line(one) for one in operations]
        price = self.prices.rounded(sum((line.price for line in lines), Decimal(0)))
        hours = sum((line.hours for line in lines), Decimal(0))
        return Extra(list(operations), hours, sum((line.cost for line in lines), Decimal(0)), price)


def remedies_for(instrument: Instrument, remedies: Iterable[Remedy]) -> list[Remedy]:
    """Those that can be done on this kind of instrument, lightest first."""
    fitting = [one for one in remedies if one.only_for in ("", instrument.kind) and one.retired_at is None]
    return sorted(fitting, key=lambda one: (one.position, one.pk))
