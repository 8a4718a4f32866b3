"""An instrument's way through the house, as lines that are only ever added."""

from __future__ import annotations

from datetime import date

from django.db import transaction
from django.db.models import Count, Q

from shopflow.catalogue.models import Stage
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Instrument
from shopflow.instruments.selectors.crates import missing_of
from shopflow.instruments.services.safety import refuse_unanswered
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import Move, Passage, Task
from shopflow.workshop.querysets import TaskQuerySet

# The dates on an instrument that its passages say.
PROJECTED = ("arrived_on", "finished_on", "handed_on", "left_on")


@transaction.atomic
def arrive(*, instrument: Instrument, on: date, by: Person) -> Passage:
    """Write that an instrument came into the house; a day in the future is refused."""
    access.require(by, Deed.INSTRUMENTS)
    if on > clock.today():
        raise Refused(f"Arrived on {on:%d %b %Y} is in the future; allowed is today or earlier.")
    if instrument.arrived_on is not None and instrument.left_on is None:
        raise Refused(f"{instrument} is in the house already, since {instrument.arrived_on:%d %b %Y}.")
    came_back = instrument.left_on is not None
    return _write(instrument, Passage.Kind.RETURNED if came_back else Passage.Kind.ARRIVED, on=on, by=by)


@transaction.atomic
def let_leave(*, instrument: Instrument, by: Person, reason: str = "", without_parts: str = "") -> Passage:
    """Let an instrument leave the house: finished and whole, else with a reason for each that is kept."""
    access.require(by, Deed.LET_LEAVE)
    instrument = Instrument.objects.select_for_update().get(pk=instrument.pk)
    if instrument.arrived_on is None or instrument.left_on is not None:
        raise Refused(f"{instrument} is not in the house.")
    if instrument.finished_on is None and not reason:
        open_tasks = list(_open_tasks(instrument).values_list("name", flat=True)[:5])
        left = ", ".join(f"“{name}”" for name in open_tasks) or "nothing was ever started"
        raise Refused(f"{instrument} is not finished: {left}. Leaving so needs a reason.", field="reason")
    refuse_unanswered(instrument, before="Unsafe, so it cannot leave")
    kept = [reason, _without(instrument, without_parts)]
    return _write(
        instrument, Passage.Kind.LEFT, on=clock.today(), by=by, reason="; ".join(filter(None, kept))[:300]
    )


@transaction.atomic
def hand_over(*, instrument: Instrument, by: Person) -> None:
    """Write that its owner has taken it over, once in a stay: from then on every page says so."""
    access.require(by, Deed.HAND_OVER)
    instrument = Instrument.objects.select_for_update().get(pk=instrument.pk)
    if instrument.handed_on is None:
        _write(instrument, Passage.Kind.HANDED, on=clock.today(), by=by)


def _without(instrument: Instrument, why: str) -> str:
    """Why it leaves although parts of it are not in the house; nothing where all are."""
    missing = missing_of(instrument)
    if not missing:
        return ""
    if not why:
        parts = "; ".join(missing.words[:6])
        raise Refused(
            f"Not all of {instrument} is here: {parts}. Count it in, or say why it leaves without.",
            field="without_parts",
        )
    return f"without all its parts: {why}"


def settle(instrument: Instrument, *, by: Person, move: Move | None = None) -> None:
    """After a change of its tasks: write that the instrument is finished, or that it was opened again."""
    # Two last tasks signed at once must not each see the other one still open.
    instrument = Instrument.objects.select_for_update().get(pk=instrument.pk)
    if instrument.left_on is not None:
        return
    counts = (
        Task.objects.in_the_job()
        .before_leaving()
        .filter(instrument=instrument)
        .order_by()
        .aggregate(all=Count("pk"), signed=Count("pk", filter=Q(stage__kind=Stage.Kind.SIGNED)))
    )
    done = counts["all"] > 0 and counts["all"] == counts["signed"]
    if done and instrument.finished_on is None:
        _write(instrument, Passage.Kind.FINISHED, on=clock.today(), by=by, move=move)
    elif not done and instrument.finished_on is not None:
        _write(instrument, Passage.Kind.REOPENED, on=clock.today(), by=by, move=move)


def _open_tasks(instrument: Instrument) -> TaskQuerySet:
    return Task.objects.open().before_leaving().filter(instrument=instrument)


def _write(
    instrument: Instrument,
    kind: str,
    *,
    on: date,
    by: Person,
    move: Move | None = None,
    reason: str = "",
) -> Passage:
    passage = Passage.objects.create(
        instrument=instrument, kind=kind, on=on, by=by, move=move, reason=reason, recorded_at=clock.now()
    )
    project(instrument, kind, on)
    instrument.save(update_fields=[*PROJECTED])
    pulse.bump()
    return passage


def project(instrument: Instrument, kind: str, on: date) -> None:
    """What one passage means for the dates on the instrument itself."""
    if kind == Passage.Kind.ARRIVED:
        instrument.arrived_on = on
    elif kind == Passage.Kind.FINISHED:
        instrument.finished_on = on
    elif kind == Passage.Kind.REOPENED:
        instrument.finished_on = instrument.handed_on = None
    elif kind == Passage.Kind.HANDED:
        instrument.handed_on = on
    elif kind == Passage.Kind.LEFT:
        instrument.left_on = on
    elif kind == Passage.Kind.RETURNED:
        instrument.arrived_on = on
        instrument.finished_on = instrument.handed_on = instrument.left_on = None


def passage_differences(*, mend: bool = False) -> list[str]:
    """Replay every instrument's passages and name each one whose stored dates differ."""
    lines: dict[int, list[tuple[str, date]]] = {}
    for pk, kind, on in Passage.objects.order_by("pk").values_list("instrument_id", "kind", "on"):
        lines.setdefault(pk, []).append((kind, on))
    wrong = []
    for instrument in Instrument.objects.iterator():
        stored = tuple(getattr(instrument, name) for name in PROJECTED)
        for name in PROJECTED:
            setattr(instrument, name, None)
        for kind, on in lines.get(instrument.pk, []):
            project(instrument, kind, on)
        told = tuple(getattr(instrument, name) for name in PROJECTED)
        if stored != told:
            wrong.append(f"{instrument}: stored {stored}, ledger says {told}")
            if mend:
                instrument.save(update_fields=[*PROJECTED])
    return wrong
