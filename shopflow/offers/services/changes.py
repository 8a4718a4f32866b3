"""Writing a change order: begun from a finding, changed while it is a draft, sent, taken back, withdrawn."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.db.models import Max

from shopflow.catalogue.models import Terms
from shopflow.common import clock, jobs, pulse
from shopflow.common.refusals import Refused
from shopflow.instruments.models import Finding, Instrument, Survey
from shopflow.instruments.services.survey import add_finding, begin_survey
from shopflow.offers.models import ChangeOrder
from shopflow.offers.selectors.terms import the_terms
from shopflow.offers.selectors.touched import touched_by
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.photos.models import Photo
from shopflow.workshop.models import Snag, Task
from shopflow.workshop.services import snags

from .asking import freeze
from .choices import first_choices, save_choices
from .safety import refuse_offering_to_leave

FORESEE = "foresee change"
OPEN = (ChangeOrder.State.DRAFT, ChangeOrder.State.SENT)
# On bench pages nobody's name is shown; the snag says whom it waits for in these words.
THE_OWNER = "the owner"
FACTS = ("what", "why_hidden", "photo", "decide_by", "moves_promise")


class DraftChanged(Refused):
    """Somebody else saved this draft since the page was opened. Answered with 409."""

    status = 409

    def __init__(self, change: ChangeOrder) -> None:
        super().__init__(
            "Someone else changed this change order meanwhile. Nothing of yours was saved yet: look at what"
            " stands there now, then save yours once more or leave it."
        )
        self.change = change


@transaction.atomic
def begin(*, finding: Finding, by: Person, stops: Iterable[Task] = ()) -> ChangeOrder:
    """Begin the change order of a finding, filled in as far as the shop knows; one that is open is kept."""
    access.require(by, Deed.OFFERS)
    # What a later survey says of a finding belongs to the finding itself.
    finding = finding.about or finding
    # The instrument's lock: two who begin at once get one change order.
    instrument = Instrument.objects.select_for_update().get(pk=finding.instrument_id)
    there = ChangeOrder.objects.filter(finding=finding, state__in=OPEN).first()
    if there is not None:
        return there
    if finding.taken_back_at is not None or finding.state in {Finding.State.MENDED, Finding.State.WITHDRAWN}:
        raise Refused(f"“{finding.name}” is {finding.get_state_display()}: there is nothing to ask.")
    if instrument.left_on is not None:
        raise Refused(f"{instrument} has left the house. Take it in again before work on it is asked about.")
    terms = the_terms()
    change = ChangeOrder.objects.create(
        instrument=instrument,
        number=_next_number(instrument),
        finding=finding,
        what=_plain_words(finding),
        why_hidden="",
        photo=Photo.objects.ready().filter(finding=finding).order_by("-added_at").first(),
        decide_by=clock.today() + timedelta(days=terms.decide_days),
        policy=terms.surprise,
        policy_percent=terms.surprise_percent if terms.surprise == Terms.Surprise.UP_TO else 0,
        made_by=by,
    )
    first_choices(change)
    wished = {task.pk for task in stops}
    remedies = [choice.remedy for choice in change.choices.all() if choice.remedy]
    wished |= {one.task.pk for one in touched_by(instrument, remedies) if one.should_stop}
    change.stops.set(wished)
    ask_the_plan(change, by=by)
    return change


@transaction.atomic
def begin_with_new(
    *, instrument: Instrument, finding: Mapping[str, Any], by: Person, stops: Iterable[Task] = ()
) -> ChangeOrder:
    """Write down what came to light, in the survey that is open or in a second one begun now, and ask."""
    access.require(by, Deed.OFFERS)
    known = Finding.objects.filter(instrument=instrument, key=finding["key"]).first()
    if known is None:
        survey = begin_survey(instrument=instrument, occasion=Survey.Occasion.TEARDOWN, by=by)
        known = add_finding(survey=survey, by=by, **finding)
    return begin(finding=known, by=by, stops=stops)


@transaction.atomic
def save_draft(
    *,
    change: ChangeOrder,
    seen_edition: int,
    facts: Mapping[str, Any],
    choices: Mapping[str, Mapping[str, Any]],
    stops: Iterable[Task],
    by: Person,
    price_anew: bool = False,
) -> ChangeOrder:
    """Save what was typed over a draft. `choices` holds, by kind, what is offered; what is missing is not."""
    access.require(by, Deed.OFFERS)
    change = _locked(change, seen_edition)
    if facts["decide_by"] < clock.today():
        raise Refused(
            f"Got {facts['decide_by']:%Y-%m-%d}, which is past; allowed is today or later.", field="decide_by"
        )
    for name in FACTS:
        setattr(change, name, facts[name])
    change.edition += 1
    change.save(update_fields=[*FACTS, "edition"])
    save_choices(change, choices, price_anew=price_anew)
    change.stops.set(stops)
    ask_the_plan(change, by=by)
    return change


@transaction.atomic
def send(*, change: ChangeOrder, seen_edition: int, by: Person) -> ChangeOrder:
    """Freeze it and put it before the customer; the tasks it touches stop, everything else goes on."""
    access.require(by, Deed.OFFERS)
    change = _locked(change, seen_edition)
    refuse_offering_to_leave(change)
    freeze(change)
    change.state = ChangeOrder.State.SENT
    change.save(update_fields=["frozen", "fingerprint", "state", "sent_at", "customer"])
    _stop_what_is_touched(change, by=by)
    pulse.bump()
    return change


@transaction.atomic
def save_and_send(*, by: Person, **typed: Any) -> ChangeOrder:
    """Save what was typed and put it before the customer: both, or nothing of it."""
    change = save_draft(by=by, **typed)
    return send(change=change, seen_edition=change.edition, by=by)


@transaction.atomic
def rewrite(*, change: ChangeOrder, seen_edition: int, by: Person) -> ChangeOrder:
    """Take back what was sent in order to write it anew. What it stops stays stopped meanwhile."""
    access.require(by, Deed.OFFERS)
    change = _locked(change, seen_edition, state=ChangeOrder.State.SENT)
    change.state, change.fingerprint, change.frozen = ChangeOrder.State.DRAFT, "", None
    change.sent_at = None
    change.edition += 1
    change.save(update_fields=["state", "fingerprint", "frozen", "sent_at", "edition"])
    return change


@transaction.atomic
def withdraw(*, change: ChangeOrder, seen_edition: int, by: Person) -> ChangeOrder:
    """It is not needed after all: what it stopped goes on, the finding stays as it is."""
    access.require(by, Deed.OFFERS)
    change = ChangeOrder.objects.select_for_update(of=("self",)).get(pk=change.pk)
    if change.state == ChangeOrder.State.WITHDRAWN:
        return change
    change = _locked(change, seen_edition, state=change.state if change.state in OPEN else OPEN[0])
    change.state = ChangeOrder.State.WITHDRAWN
    change.save(update_fields=["state"])
    let_go_on(change, by=by, note=f"change order {change.number} withdrawn")
    return change


def let_go_on(change: ChangeOrder, *, by: Person, note: str, besides: Iterable[int] = ()) -> None:
    """Clear the snags of a change order, but those on the tasks named."""
    for snag in change.snags.filter(cleared_at=None).exclude(task__in=list(besides)):
        snags.clear_snag(snag=snag, by=by, note=note)


def ask_the_plan(change: ChangeOrder, *, by: Person) -> None:
    """Have the plan say how many days each choice takes, where a plan can be asked."""
    if not change.choices.filter(remedy__isnull=False, days_high=None).exists():
        return
    try:
        jobs.enqueue(FORESEE, by=by, unique=f"change-{change.pk}", change=change.pk)
    except LookupError:
        # Without that kind of work the office types the days itself.
        return


def _locked(change: ChangeOrder, seen_edition: int, state: str = ChangeOrder.State.DRAFT) -> ChangeOrder:
    change = ChangeOrder.objects.select_for_update(of=("self",)).get(pk=change.pk)
    if change.state != state:
        raise DraftChanged(change)
    if change.edition != seen_edition:
        raise DraftChanged(change)
    return change


def _next_number(instrument: Instrument) -> int:
    last = ChangeOrder.objects.filter(instrument=instrument).aggregate(last=Max("number"))["last"]
    return (last or 0) + 1


def _plain_words(finding: Finding) -> str:
    told = (finding.kind.plain_words if finding.kind else "") or finding.name
    parts = [part.strip() for part in (told, finding.words) if part.strip()]
    sentences = [part[0].upper() + part[1:] + ("" if part[-1] in ".!?" else ".") for part in parts]
    return " ".join(sentences)[:400]


def _stop_what_is_touched(change: ChangeOrder, *, by: Person) -> None:
    """One snag for each task that is ticked and still open; those of an earlier sending are kept in step."""
    wanted = {task.pk: task for task in Task.objects.open().filter(pk__in=change.stops.all())}
    let_go_on(change, by=by, note="not touched after all", besides=wanted)
    stopped = {snag.task_id: snag for snag in change.snags.filter(cleared_at=None)}
    for pk, task in wanted.items():
        if pk in stopped:
            snags.ask_again(snag=stopped[pk], on=change.decide_by, by=by)
            continue
        change.snags.add(_stop(task, change, by=by))


def _stop(task: Task, change: ChangeOrder, *, by: Person) -> Snag:
    return snags.raise_snag(
        task=task,
        cause=Snag.Cause.CUSTOMER,
        reason=f"change order {change.number}: {change.finding.name}"[:300],
        ask_again_on=change.decide_by,
        by=by,
        owner_outside=THE_OWNER,
    )
