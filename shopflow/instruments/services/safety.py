"""The answer for an unsafe finding that stays, and the refusal where there is none.

Every door of the house calls one of the two refusals here and knows nothing else of the rule.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django.db import transaction
from django.utils import timezone

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from ..models import Finding, Instrument, LeftUnsafe
from ..selectors.findings import CurrentFinding
from ..selectors.safety import Unsafe, in_words, unanswered, unsafe_and_open

WHAT_TO_DO = "Mend it, or write down on “Left as found” why it stays and what the customer put in writing."


class Unanswered(Refused):
    """Something unsafe is open, and nobody answers for it."""

    def __init__(self, left: Iterable[Unsafe], before: str) -> None:
        self.left = list(left)
        super().__init__(f"{before}: {in_words(self.left)}. {WHAT_TO_DO}")


def refuse_unanswered(instrument: Instrument, *, before: str = "Unsafe, and still open") -> None:
    """Before a whole piano passes: anything unsafe on it that is open has to be answered for."""
    left = unanswered(instrument)
    if left:
        raise Unanswered(left, before)


def refuse_leaving(finding: Finding, *, before: str = "Unsafe, so it cannot just be left") -> None:
    """Before one finding is left as it is."""
    first = finding.about_id or finding.pk
    left = [one for one in unanswered(finding.instrument) if one.found.pk == first]
    if left:
        raise Unanswered(left, before)


@transaction.atomic
def answer_for(
    *, finding: Finding, reason: str, word_by: str, word_on: date, word: str, by: Person
) -> LeftUnsafe:
    """Write down why an unsafe finding stays, and the customer's written word; the same again is one."""
    access.require(by, Deed.OFFERS)
    instrument = Instrument.objects.select_for_update().get(pk=finding.instrument_id)
    one = next((one for one in unsafe_and_open(instrument) if one.found.pk == finding.pk), None)
    if one is None:
        raise Refused(
            f"“{finding.name}” is not unsafe, or not open any more: there is nothing to answer for."
        )
    said = {"reason": reason.strip(), "word_by": word_by.strip(), "word": word.strip(), "word_on": word_on}
    _refuse_half_said(one.found, said)
    there = one.answer
    if there is not None and all(getattr(there, name) == value for name, value in said.items()):
        return there
    _end(finding, why="written anew", by=by)
    return LeftUnsafe.objects.create(
        finding=one.found.first,
        severity=one.found.severity,
        customer=instrument.customer,
        by=by,
        at=clock.now(),
        **said,
    )


def _end(finding: Finding, *, why: str, by: Person) -> None:
    rows = LeftUnsafe.objects.filter(finding=finding, ended_at=None)
    rows.update(ended_at=clock.now(), ended_by=by, ended_why=why[:200])


def _refuse_half_said(one: CurrentFinding, said: dict[str, object]) -> None:
    for field, words in (
        ("reason", "Say why it stays as it is."),
        ("word_by", "Say who wrote."),
        ("word", "Say what they wrote, and how it came: letter, e-mail, signed paper."),
    ):
        if not said[field]:
            raise Refused(words, field=field)
    found_on, given_on = timezone.localdate(one.latest.at), said["word_on"]
    assert isinstance(given_on, date)
    if not found_on <= given_on <= clock.today():
        raise Refused(
            f"Got {given_on:%Y-%m-%d}; it was found on {found_on:%Y-%m-%d}: allowed is that day until today.",
            field="word_on",
        )
