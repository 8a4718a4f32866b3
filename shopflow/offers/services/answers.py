"""The answer to a change order, and all that follows from it, in one deed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.db import transaction

from shopflow.catalogue.models import Stage, Terms
from shopflow.common import clock, jobs, pulse
from shopflow.common.refusals import Refused
from shopflow.customers.models import PrivateLink
from shopflow.instruments.models import Finding, Instrument
from shopflow.offers.models import ChangeAnswer, ChangeChoice, ChangeOrder, LaidOut
from shopflow.offers.on_behalf import hand_for
from shopflow.offers.selectors.allowance import allowance_of
from shopflow.offers.selectors.extra import JobUnderWay
from shopflow.offers.selectors.remedies import work_of
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person
from shopflow.workshop.models import Task
from shopflow.workshop.services import intake, layout

from .asking import freeze
from .changes import DraftChanged, let_go_on
from .leaving import end_decision, leave_by_answer
from .safety import refuse_settling

# The kind of work that sends both sides a paper of what was decided.
MAIL = "mail answer"


class OtherWords(Refused):
    """The answer was given to words that no longer stand. Answered with 409 and the words of today."""

    status = 409

    def __init__(self, change: ChangeOrder) -> None:
        super().__init__(
            "What we ask was changed after this page was opened, so your answer was not counted."
            " Please read it once more as it stands now."
        )
        self.change = change


class AnsweredAlready(Refused):
    """Somebody answered before, otherwise. Answered with 409."""

    status = 409

    def __init__(self, answer: ChangeAnswer) -> None:
        super().__init__(
            f"This was settled already on {answer.at:%d %b %Y}: {answer.choice.get_kind_display()}"
            f" ({answer.typed_name}). Nothing was changed."
        )
        self.given = answer


@dataclass(frozen=True, slots=True)
class Said:
    """What was said, by whom, on which words, and which way it came."""

    choice_id: int
    typed_name: str
    fingerprint: str
    link: PrivateLink | None = None
    entered_by: Person | None = None
    by_policy: bool = False


@transaction.atomic
def answer(
    *, change: ChangeOrder, choice_id: int, typed_name: str, fingerprint: str, link: PrivateLink
) -> ChangeAnswer:
    """The customer's own answer by private link: a typed name and an explicit act."""
    if link.instrument_id != change.instrument_id:
        raise Refused("This link does not open this change order.")
    hand = hand_for(change.made_by, link.made_by)
    return _settle(change, Said(choice_id, typed_name, fingerprint, link=link), hand=hand)


@transaction.atomic
def enter_answer(
    *, change: ChangeOrder, choice_id: int, typed_name: str, fingerprint: str, by: Person
) -> ChangeAnswer:
    """An answer that came on paper or by mail, entered by the office."""
    access.require(by, Deed.OFFERS)
    return _settle(change, Said(choice_id, typed_name, fingerprint, entered_by=by), hand=by)


@transaction.atomic
def settle_by_policy(*, change: ChangeOrder, choice_id: int, seen_edition: int, by: Person) -> ChangeAnswer:
    """Do what is needed without asking, as far as the terms of this change order allow."""
    access.require(by, Deed.OFFERS)
    change = _locked(change)
    if change.state == ChangeOrder.State.SETTLED:
        return _given_before(change, Said(choice_id, "", "", entered_by=by, by_policy=True))
    if change.edition != seen_edition:
        raise DraftChanged(change)
    choice = _choice_of(change, choice_id)
    _refuse_beyond_policy(change, choice)
    if change.state == ChangeOrder.State.DRAFT:
        freeze(change)
        change.state = ChangeOrder.State.SENT
        change.save(update_fields=["frozen", "fingerprint", "state", "sent_at", "customer"])
    said = Said(choice_id, by.name, change.fingerprint, entered_by=by, by_policy=True)
    return _settle(change, said, hand=by)


def _settle(change: ChangeOrder, said: Said, *, hand: Person) -> ChangeAnswer:
    """Store the answer, change tasks, clear snags, move the promise: all of it or nothing."""
    change = _locked(change)
    if change.state == ChangeOrder.State.SETTLED:
        return _given_before(change, said)
    if change.state != ChangeOrder.State.SENT or change.fingerprint != said.fingerprint:
        raise OtherWords(change)
    if not said.typed_name.strip():
        raise Refused("Type your name: it stands for your signature.", field="typed_name")
    choice = _choice_of(change, said.choice_id)
    refuse_settling(change, choice, link=said.link)
    given = ChangeAnswer.objects.create(
        change=change,
        choice=choice,
        typed_name=said.typed_name.strip()[:80],
        fingerprint=change.fingerprint,
        link=said.link,
        entered_by=said.entered_by,
        by_policy=said.by_policy,
        at=clock.now(),
    )
    change.state, change.settled_at = ChangeOrder.State.SETTLED, clock.now()
    change.save(update_fields=["state", "settled_at"])
    _follow(change, choice, given, hand=hand)
    jobs.enqueue(MAIL, by=hand, unique=str(given.pk), answer_id=given.pk)
    pulse.bump()
    return given


def _locked(change: ChangeOrder) -> ChangeOrder:
    """The instrument first, as laying out does: whoever else wants both then waits, and never for ever."""
    Instrument.objects.select_for_update().get(pk=change.instrument_id)
    return ChangeOrder.objects.select_for_update(of=("self",)).get(pk=change.pk)


def _follow(change: ChangeOrder, choice: ChangeChoice, given: ChangeAnswer, *, hand: Person) -> None:
    _drop_what_was_sold(change, choice, hand=hand)
    if choice.kind == ChangeChoice.Kind.LEAVE:
        leave_by_answer(answer=given)
    else:
        _add_tasks(change, choice, hand=hand)
        end_decision(change.finding, why=f"mended after all, by change order {change.number}")
        change.finding.state = Finding.State.IN_WORK
        change.finding.save(update_fields=["state"])
    let_go_on(change, by=hand, note=f"change order {change.number}: {choice.get_kind_display()}")
    _move_promise(change, choice, hand=hand)


def _given_before(change: ChangeOrder, said: Said) -> ChangeAnswer:
    """The same answer sent twice is one answer; another one is told what was answered."""
    given = ChangeAnswer.objects.select_related("choice").get(change=change)
    if given.choice_id == said.choice_id and (said.by_policy or given.typed_name == said.typed_name.strip()):
        return given
    raise AnsweredAlready(given)


def _choice_of(change: ChangeOrder, choice_id: int) -> ChangeChoice:
    choice = change.choices.select_related("remedy").filter(pk=choice_id).first()
    if choice is None:
        raise Refused("Choose one of the answers.", field="choice")
    return choice


def _refuse_beyond_policy(change: ChangeOrder, choice: ChangeChoice) -> None:
    if choice.kind == ChangeChoice.Kind.LEAVE:
        raise Refused("Leaving something as found is the customer's to decide: ask.")
    if change.policy == Terms.Surprise.ASK:
        raise Refused("By the terms of this change order the customer is asked before every extra.")
    allowed = allowance_of(change)
    if change.policy == Terms.Surprise.UP_TO and choice.price > allowed.left:
        raise Refused(
            f"This costs {choice.price:,.2f}; without asking, {allowed.left:,.2f} is left"
            f" ({change.policy_percent} % of {allowed.approved:,.2f} agreed, {allowed.spent:,.2f} used): ask."
        )


def _add_tasks(change: ChangeOrder, choice: ChangeChoice, *, hand: Person) -> None:
    """Lay out what the remedy needs on top; tasks that are there already are tied to the finding."""
    if choice.remedy is None:
        return
    instrument = change.instrument
    if instrument.left_on is not None:
        raise Refused("The piano has left the house meanwhile: please speak with the shop.")
    own = work_of(choice.remedy, instrument.kind)
    if JobUnderWay.of(instrument).now(choice.remedy) is None:
        raise Refused(f"“{choice.remedy.name}” does not go any more with the work that is open here.")
    added = layout.add_work(
        instrument=instrument, operations=own, by=hand, because=f"change order {change.number}"
    )
    note = f"by change order {change.number}: {change.finding.name}"
    Task.objects.filter(pk__in=[task.pk for task in added.tasks]).update(note=note[:1000])
    tasks = [*added.present, *added.tasks]
    LaidOut.objects.bulk_create(LaidOut(task=task, finding=change.finding, choice=choice) for task in tasks)


def _drop_what_was_sold(change: ChangeOrder, choice: ChangeChoice, *, hand: Person) -> None:
    """Tasks that were laid out for this finding alone, are not begun, and are no part of the answer."""
    kept = {one.pk for one in work_of(choice.remedy, change.instrument.kind)} if choice.remedy else set()
    for task in Task.objects.open().filter(sold_as__finding=change.finding).distinct():
        others = task.sold_as.exclude(finding=change.finding).exists()
        if not others and task.operation_id not in kept and task.stage.kind == Stage.Kind.RACKED:
            reason = f"change order {change.number}: {choice.get_kind_display()}"
            layout.drop_task(task=task, by=hand, reason=reason)


def _move_promise(change: ChangeOrder, choice: ChangeChoice, *, hand: Person) -> None:
    """By the days on which the customer was told to reckon, if the office said so when it asked."""
    days = choice.days_high if choice.days_high is not None else choice.days_low
    instrument = Instrument.objects.get(pk=change.instrument_id)
    if change.moves_promise and days and instrument.promised_on:
        intake.promise(instrument=instrument, on=instrument.promised_on + timedelta(days=days), by=hand)
