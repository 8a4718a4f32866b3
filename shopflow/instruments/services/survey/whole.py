"""Beginning and finishing a survey."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from shopflow.catalogue.models import ComponentGroup
from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from ...models import GroupLook, Instrument, Survey
from .findings import standing_in

Word = GroupLook.Word


@transaction.atomic
def begin_survey(
    *,
    instrument: Instrument,
    occasion: str,
    by: Person,
    place: str = "",
    room_c: Decimal | None = None,
    room_rh: Decimal | None = None,
) -> Survey:
    """Begin a survey, or go on with the one that is open: there is one at a time."""
    access.require(by, Deed.SURVEY)
    Instrument.objects.select_for_update().get(pk=instrument.pk)
    earlier = list(instrument.surveys.order_by("number"))
    writing = next((one for one in earlier if one.finished_at is None), None)
    if writing is not None:
        return writing
    if earlier and occasion == Survey.Occasion.FIRST:
        raise Refused(
            "There is a survey from before the work already. A later one is after teardown,"
            " or when the instrument came back.",
            field="occasion",
        )
    survey = Survey(
        instrument=instrument,
        number=1 + max((one.number for one in earlier), default=0),
        occasion=occasion,
        by=by,
        place=place,
        room_c=room_c,
        room_rh=room_rh,
        began_at=clock.now(),
    )
    survey.full_clean()
    survey.save()
    return survey


@transaction.atomic
def finish_survey(
    *,
    survey: Survey,
    by: Person,
    why_not: str = "",
    begun_word: str = "",
    begun_why: str = "",
    note: str = "",
) -> Survey:
    """Close a survey for good. What nobody came to has to be called "not inspected", with the reason.

    Groups with findings and no closing word become `begun_word`: looked at (FOUND), or PARTLY with
    `begun_why`. Finishing a finished one changes nothing.
    """
    access.require(by, Deed.SURVEY)
    survey = Survey.objects.select_for_update(of=("self",)).get(pk=survey.pk)
    if survey.finished_at is not None:
        return survey
    begun, untouched = groups_without_word(survey)
    if untouched and not why_not:
        names = ", ".join(group.name for group in untouched)
        raise Refused(f"Nobody has looked at: {names}. Say why they are not inspected.", field="why_not")
    if begun:
        _check_begun(begun_word, begun_why)
    looks = [_look(survey, group, Word.NOT, why_not, by) for group in untouched]
    looks += [_closing(survey, group, begun_word, begun_why, by) for group in begun]
    GroupLook.objects.bulk_create(looks)
    survey.drafts.all().delete()
    survey.finished_at = clock.now()
    survey.note = note
    survey.full_clean(validate_unique=False, validate_constraints=False)
    survey.save(update_fields=["finished_at", "note"])
    return survey


def groups_without_word(survey: Survey) -> tuple[list[ComponentGroup], list[ComponentGroup]]:
    """Of the groups that were not closed: those of which this survey says something, and the others."""
    said = set(survey.looks.values_list("group_id", flat=True))
    found = set(survey.findings.filter(taken_back_at=None).values_list("group_id", flat=True))
    silent = [group for group in ComponentGroup.objects.all() if group.pk not in said]
    return [group for group in silent if group.pk in found], [
        group for group in silent if group.pk not in found
    ]


def _check_begun(word: str, why: str) -> None:
    if word not in {Word.FOUND, Word.PARTLY}:
        raise Refused(
            "Say whether the groups with findings were looked at wholly or only partly.", field="begun_word"
        )
    if word == Word.PARTLY and not why:
        raise Refused("Say what could not be seen of them.", field="begun_why")


def _closing(survey: Survey, group: ComponentGroup, word: str, why: str, by: Person) -> GroupLook:
    """Of a group that was begun; where all that was said is "not so after all", nothing is found in it."""
    if word == Word.PARTLY:
        return _look(survey, group, word, why, by)
    return _look(survey, group, Word.FOUND if standing_in(survey, group.pk).exists() else Word.GOOD, "", by)


def _look(survey: Survey, group: ComponentGroup, word: str, why: str, by: Person) -> GroupLook:
    return GroupLook(survey=survey, group=group, word=word, why=why, by=by, at=clock.now())
