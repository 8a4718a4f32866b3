"""Readings taken during a survey."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from shopflow.catalogue import measures
from shopflow.catalogue.models import ReadingKind
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from ...models import Finding, Survey, SurveyReading
from .drafts import let_go
from .open import hold_open


class BeyondPossible(Refused):
    """A value beyond physical sense: kept only after it was measured again and a yes."""

    def __init__(self, kind: ReadingKind, typed: Decimal, units: str) -> None:
        unit = measures.unit_of(kind, units)
        words = f"Got {typed:f} {unit}".strip() + f"; possible is {measures.possible(kind, units)}"
        usual = measures.usual(kind, units)
        super().__init__(
            words + (f", usual {usual}" if usual else "") + ". Is the unit right? Measured again?",
            field="again",
        )


@transaction.atomic
def add_reading(
    *,
    survey: Survey,
    kind: ReadingKind,
    typed: Decimal,
    units: str,
    by: Person,
    place: str = "",
    measured_again: bool = False,
    finding: Finding | None = None,
    key: str = "",
    draft: str = "",
) -> SurveyReading:
    """Keep a value as typed and in the unit that is kept. The same `key` again is the same reading."""
    access.require(by, Deed.SURVEY)
    survey = hold_open(survey.pk)
    value = measures.to_kept(kind, typed, units)
    there = survey.readings.filter(key=key).first() if key else None
    if there is not None:
        return _sent_again(there, kind, value, place)
    if kind.only_for and kind.only_for != survey.instrument.kind:
        raise Refused(f"“{kind.name}” is read at {kind.get_only_for_display()}s only.")
    beyond = not measures.is_possible(kind, value)
    if beyond and not measured_again:
        raise BeyondPossible(kind, typed, units)
    reading = SurveyReading(
        survey=survey,
        kind=kind,
        finding=finding,
        place=place,
        typed=f"{typed:f}",
        unit=measures.unit_of(kind, units),
        value=value,
        measured_again=beyond,
        by=by,
        at=clock.now(),
        key=key,
    )
    reading.full_clean(validate_unique=False, validate_constraints=False)
    reading.save()
    let_go(survey.instrument_id, draft, by)
    return reading


@transaction.atomic
def take_back_reading(*, reading: SurveyReading, by: Person) -> SurveyReading:
    """Strike a reading: it stays in the records, and is not shown as one any more."""
    access.require(by, Deed.SURVEY)
    hold_open(reading.survey_id)
    SurveyReading.objects.filter(pk=reading.pk, taken_back_at=None).update(taken_back_at=clock.now())
    reading.refresh_from_db()
    return reading


def _sent_again(there: SurveyReading, kind: ReadingKind, value: Decimal, place: str) -> SurveyReading:
    if (there.kind_id, there.value, there.place) == (kind.pk, value, place):
        return there
    raise Refused("This form was saved already, with another value. Write the new one down as a new reading.")
