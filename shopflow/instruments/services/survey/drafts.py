"""Half-done forms of a survey: they wait on the shop's computer for the one who began them."""

from __future__ import annotations

import re
from collections.abc import Mapping

from django.db import transaction

from shopflow.common import clock
from shopflow.common.refusals import Refused
from shopflow.common.text import clean
from shopflow.people import access
from shopflow.people.access import Deed
from shopflow.people.models import Person

from ...models import Survey, SurveyDraft
from .open import hold_open

_FORM = re.compile(r"[A-Za-z0-9][A-Za-z0-9/_-]{0,59}", re.ASCII)
_FIELD = re.compile(r"[a-z_]{1,30}", re.ASCII)
LONGEST, MOST_FIELDS, MOST_DRAFTS = 2_000, 30, 200
_BESIDES = {"key", "kind", "seen"}


@transaction.atomic
def keep_draft(*, survey: Survey, form: str, fields: Mapping[str, str], by: Person) -> SurveyDraft | None:
    """Keep what someone has typed so far; None when the form was saved meanwhile or holds nothing.

    A packet that was under way while its form was saved must not bring the form back: it carries the same
    key as what is saved now.
    """
    access.require(by, Deed.SURVEY)
    survey = hold_open(survey.pk)
    if not _FORM.fullmatch(form):
        raise Refused("This form has no name that can be kept.")
    fields = _fit(fields)
    if _was_saved(survey, fields.get("key", "")):
        return None
    if not any(value for name, value in fields.items() if name not in _BESIDES):
        forget_draft(survey=survey, form=form, by=by)
        return None
    known = survey.drafts.filter(by=by)
    if known.count() >= MOST_DRAFTS and not known.filter(form=form).exists():
        raise Refused("There are too many half-done forms. Save or throw away some of them.")
    draft, _ = SurveyDraft.objects.update_or_create(
        survey=survey, by=by, form=form, defaults={"fields": fields, "saved_at": clock.now()}
    )
    return draft


def forget_draft(*, survey: Survey, form: str, by: Person) -> None:
    """It was saved, or thrown away."""
    access.require(by, Deed.SURVEY)
    survey.drafts.filter(by=by, form=form).delete()


def let_go(instrument_id: int, form: str, by: Person) -> None:
    """Within the deed that saves a form: what was half done of it goes away with it."""
    if form:
        SurveyDraft.objects.filter(
            survey__instrument_id=instrument_id, survey__finished_at=None, by=by, form=form
        ).delete()


def _fit(fields: Mapping[str, str]) -> dict[str, str]:
    fit = [(name, clean(value)[:LONGEST]) for name, value in fields.items() if _FIELD.fullmatch(name)]
    return dict(fit[:MOST_FIELDS])


def _was_saved(survey: Survey, key: str) -> bool:
    if not key:
        return False
    return survey.findings.filter(key=key).exists() or survey.readings.filter(key=key).exists()
