"""What a later survey says of an earlier finding: a word beside it, never over it."""

from __future__ import annotations

from django.db import transaction

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from ...models import Finding, Survey
from .findings import save_new, suit_look, withdraw_where_not_so
from .open import hold_open

Verdict = Finding.Verdict
# One tap is enough; the grade it gives may be corrected afterwards.
STEP = {Verdict.WORSE: 1, Verdict.LESS: -1}


@transaction.atomic
def say_of_earlier(*, survey: Survey, earlier: Finding, verdict: str, by: Person) -> Finding:
    """As before, worse, less, or not so after all. Said again in the same survey, the last word counts."""
    access.require(by, Deed.SURVEY)
    survey = hold_open(survey.pk)
    if verdict not in Verdict.values:
        raise Refused("Choose: as before, worse, less, or not so after all.", field="verdict")
    if earlier.instrument_id != survey.instrument_id or earlier.about_id is not None:
        raise Refused("That is no earlier finding of this instrument.")
    if earlier.survey_id == survey.pk or earlier.taken_back_at is not None:
        raise Refused("That finding is of this survey, or was taken back.")
    word = survey.findings.filter(about=earlier).first()
    if word is None:
        word = _beside(earlier, survey, by)
    _grade(word, earlier, verdict)
    word.taken_back_at = None
    if word.pk is None:
        save_new(word)
    else:
        word.save(update_fields=["verdict", "severity", "taken_back_at"])
        suit_look(survey, word.group_id)
    withdraw_where_not_so(word)
    return word


def _beside(earlier: Finding, survey: Survey, by: Person) -> Finding:
    last = _last_word(earlier, before=survey)
    return Finding(
        survey=survey,
        instrument_id=earlier.instrument_id,
        group_id=earlier.group_id,
        kind_id=earlier.kind_id,
        name=earlier.name,
        extent=last.extent,
        extent_unit=last.extent_unit,
        confidence=Finding.Confidence.SEEN,
        about=earlier,
        by=by,
        at=clock.now(),
        key=f"about-{earlier.pk}",
    )


def _grade(word: Finding, earlier: Finding, verdict: str) -> None:
    last = _last_word(earlier, before=word.survey)
    word.verdict = verdict
    word.severity = min(4, max(0, last.severity + STEP.get(Verdict(verdict), 0)))


def _last_word(earlier: Finding, *, before: Survey) -> Finding:
    later = earlier.later_words.filter(taken_back_at=None, survey__number__lt=before.number)
    return later.order_by("-number").first() or earlier
