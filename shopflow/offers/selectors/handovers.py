"""Handover reports of an instrument: the one being written, those given, and what is still missing."""

from __future__ import annotations

from collections.abc import Iterable

from django.http import Http404
from django.utils import timezone

from shopflow.catalogue.models import Stage
from shopflow.instruments.models import Finding, Instrument
from shopflow.instruments.selectors.safety import unanswered
from shopflow.instruments.services.safety import WHAT_TO_DO
from shopflow.offers.aftercare import untrue_old_parts
from shopflow.offers.models import ChangeOrder, Handover
from shopflow.offers.services.evidence import still_lacking
from shopflow.photos.models import Photo
from shopflow.workshop.models import Move, Task

from .fates import fate_of_findings
from .owner import of_its_owner
from .proved import proved
from .report_work import why_open

CLEAR = {"yes", "none"}


def being_written(instrument: Instrument) -> Handover | None:
    return (
        Handover.objects.filter(instrument=instrument, handed_over_at=None)
        .select_related("checked_by", "instrument__customer")
        .first()
    )


def handed_over(instrument: Instrument) -> list[Handover]:
    """Those that went home with it, newest first."""
    given = Handover.objects.filter(instrument=instrument).exclude(handed_over_at=None)
    return list(given.select_related("handed_over_by").order_by("-number"))


def given_to_owner(instrument: Instrument) -> list[Handover]:
    """Those that went home to the one who owns it now, newest first."""
    given = Handover.objects.filter(of_its_owner(instrument)).exclude(handed_over_at=None)
    return list(given.order_by("-number"))


def handed_over_or_404(instrument: Instrument, number: int) -> Handover:
    found = Handover.objects.filter(instrument=instrument, number=number).exclude(handed_over_at=None).first()
    if found is None:
        raise Http404("There is no such report.")
    return found


def given_or_404(instrument: Instrument, number: int) -> Handover:
    """The report of this number, if it was given to the one who owns the piano now."""
    found = next((one for one in given_to_owner(instrument) if one.number == number), None)
    if found is None:
        raise Http404("There is no such report.")
    return found


def last_at_it(instrument: Instrument) -> int | None:
    """Who did the last work on it: the one who must not sign its final check."""
    tasks = Task.objects.in_the_job().before_leaving().filter(instrument=instrument)
    moves = Move.objects.filter(task__in=tasks, origin__kind=Stage.Kind.BENCHED, undoes=None)
    return moves.filter(undone_by=None).order_by("-pk").values_list("by_id", flat=True).first()


def missing_for(handover: Handover) -> list[str]:
    """What stands between this report and its handing over, each in words that say what to do."""
    piano = handover.instrument
    shown = proved(piano)
    fate = fate_of_findings(piano, shown)
    missing = []
    if piano.finished_on is None:
        still = Task.objects.open().before_leaving().filter(instrument=piano)
        names = ", ".join(f"“{name}”" for name in still.values_list("name", flat=True)[:4])
        missing.append(f"It is not finished{': ' + names if names else ''}.")
    waiting = ChangeOrder.objects.filter(instrument=piano, state=ChangeOrder.State.SENT)
    missing += [
        f"Change order {number} is not answered." for number in waiting.values_list("number", flat=True)
    ]
    missing += [
        f"Finding {one.number}, “{one.name}”, is neither mended nor left: decide." for one in fate.undecided
    ]
    missing += [
        f"Finding {one.finding.number}, “{one.finding.name}”, is still to be mended: {why_open(one, shown)}."
        for one in fate.still_to_mend
        if one.state == Finding.State.IN_WORK
    ]
    untrue = untrue_old_parts(handover.old_parts, shown.proof)
    missing += [old_parts_are_untrue(untrue)] if untrue else []
    missing += [f"Unsafe, and nobody answers for it: {one.words}. {WHAT_TO_DO}" for one in unanswered(piano)]
    said = {line["code"]: line for line in handover.checks}
    missing += [one.words for one in still_lacking(piano, said)]
    if handover.checked_by_id is None:
        missing.append("The final check is not signed by a second person.")
    return missing


def old_parts_are_untrue(parts: Iterable[str]) -> str:
    """Why a note of old parts is not true of this piano."""
    named = ", ".join(f"“{part}”" for part in parts)
    return (
        f"Old parts: you name {named}, but no signed work of this stay put new ones in."
        " Take it out of the note, or sign the work."
    )


def evidence_of(instrument: Instrument) -> dict[str, int]:
    """How many photos there are, of before and of after."""
    roles = Photo.objects.filter(instrument=instrument, state=Photo.State.READY, hidden_at=None)
    told = list(roles.values_list("role", flat=True))
    return {
        "before": sum(role in {Photo.Role.FOUND, Photo.Role.BEFORE} for role in told),
        "after": told.count(Photo.Role.AFTER),
    }


def not_clear(handover: Handover) -> list[str]:
    """The lines of the check list that are not answered, or answered with no."""
    return [str(line["words"]) for line in handover.checks if line.get("state") not in CLEAR]


def handed_over_of_this_stay(instrument: Instrument) -> Handover | None:
    """The report that was handed over since the instrument last came in."""
    given = handed_over(instrument)
    if not given or given[0].handed_over_at is None or instrument.arrived_on is None:
        return given[0] if given else None
    return given[0] if timezone.localdate(given[0].handed_over_at) >= instrument.arrived_on else None
