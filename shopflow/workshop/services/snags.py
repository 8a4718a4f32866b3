"""Snags: what stops a task, who owns it, and when to ask again."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from shopflow.catalogue.models import Stage
from shopflow.common import clock, pulse
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import Snag, Task


@transaction.atomic
def raise_snag(
    *,
    task: Task,
    cause: str,
    reason: str,
    ask_again_on: date,
    by: Person,
    owner: Person | None = None,
    owner_outside: str = "",
) -> Snag:
    """Stop a task. Somebody owns the snag: the one named, someone outside, else the one who raises it."""
    access.require(by, Deed.SNAG)
    if task.dropped_at is not None or task.stage.kind == Stage.Kind.SIGNED:
        raise Refused(f"{task} is no longer being worked on.")
    if ask_again_on < clock.today():
        raise Refused(f"Ask again on {ask_again_on:%d %b %Y} is past; allowed is today or later.")
    if owner is None and not owner_outside:
        owner = by
    snag = Snag.objects.create(
        task=task,
        cause=cause,
        reason=reason.strip(),
        owner=owner,
        owner_outside=owner_outside.strip(),
        ask_again_on=ask_again_on,
        raised_by=by,
        raised_at=clock.now(),
    )
    pulse.bump()
    return snag


@transaction.atomic
def clear_snag(*, snag: Snag, by: Person, note: str = "") -> Snag:
    """Let the task go on. Clearing twice does no harm and keeps the first one's name."""
    access.require(by, Deed.SNAG)
    snag = Snag.objects.select_for_update(of=("self",)).get(pk=snag.pk)
    if snag.cleared_at is None:
        snag.cleared_at, snag.cleared_by, snag.cleared_note = clock.now(), by, note.strip()
        snag.save(update_fields=["cleared_at", "cleared_by", "cleared_note"])
        pulse.bump()
    return snag


@transaction.atomic
def ask_again(*, snag: Snag, on: date, by: Person) -> Snag:
    """Put off the date to ask again."""
    access.require(by, Deed.SNAG)
    if on < clock.today():
        raise Refused(f"Ask again on {on:%d %b %Y} is past; allowed is today or later.")
    snag.ask_again_on = on
    snag.save(update_fields=["ask_again_on"])
    pulse.bump()
    return snag
