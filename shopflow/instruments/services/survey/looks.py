"""What a survey says of one group as a whole."""

from __future__ import annotations

from django.db import transaction

from shopflow.catalogue.models import ComponentGroup
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from ...models import GroupLook, Survey
from ...selectors.survey import earlier_findings, instrument_rows
from .drafts import let_go
from .findings import standing_in
from .open import hold_open

Word = GroupLook.Word


@transaction.atomic
def say_look(
    *, survey: Survey, group: ComponentGroup, word: str, by: Person, why: str = "", draft: str = ""
) -> GroupLook:
    """Looked at, partly seen, or not inspected: the last word counts while the survey is open.

    "Nothing found" and "not inspected" are different things and never stand for each other.
    """
    access.require(by, Deed.SURVEY)
    survey = hold_open(survey.pk)
    if word not in Word.values:
        raise Refused("Choose: nothing found, that is all, partly seen, or not inspected.", field="word")
    _check(word, why, found=standing_in(survey, group.pk).exists())
    if word == Word.GOOD:
        _check_earlier(survey, group)
    look, _ = GroupLook.objects.update_or_create(
        survey=survey,
        group=group,
        defaults={
            "word": word,
            "why": why if word in {Word.NOT, Word.PARTLY} else "",
            "by": by,
            "at": clock.now(),
        },
    )
    let_go(survey.instrument_id, draft, by)
    return look


def _check_earlier(survey: Survey, group: ComponentGroup) -> None:
    """Nothing found is not true while an earlier finding stands of which this survey has said nothing."""
    rows = instrument_rows(survey.instrument)
    said = {row.about_id for row in rows if row.survey_id == survey.pk and row.taken_back_at is None}
    silent = [one for one in earlier_findings(survey, rows) if one.group == group and one.pk not in said]
    if silent:
        numbers = ", ".join(str(one.number) for one in silent)
        raise Refused(f"Say first what became of what was found before: {numbers}.", field="word")


def _check(word: str, why: str, *, found: bool) -> None:
    if word == Word.GOOD and found:
        raise Refused("There are findings in this group, so “nothing found” would not be true.", field="word")
    if word == Word.FOUND and not found:
        raise Refused("Nothing was written down in this group yet.", field="word")
    if word == Word.NOT and found:
        raise Refused("There are findings in this group: it was partly seen, then.", field="word")
    if word == Word.NOT and not why:
        raise Refused("Say why it is not inspected.", field="why")
    if word == Word.PARTLY and not why:
        raise Refused("Say what could not be seen.", field="why")
