"""A survey may be written in until it is finished; then it stands for good."""

from __future__ import annotations

from django.utils import timezone

from shopflow.common.refusals import Refused

from ...models import Survey


class SurveyFinished(Refused):
    """It was finished, here or by someone else meanwhile. Answered with 409."""

    status = 409

    def __init__(self, survey: Survey) -> None:
        at = timezone.localtime(survey.finished_at)
        super().__init__(
            f"This survey was finished on {at:%d %b %Y at %H:%M} and is not changed any more."
            " What is seen later goes into a second survey."
        )


def hold_open(survey_id: int) -> Survey:
    """The survey, locked until the end of the transaction; refused once it is finished."""
    survey = Survey.objects.select_for_update(of=("self",)).select_related("instrument").get(pk=survey_id)
    if survey.finished_at is not None:
        raise SurveyFinished(survey)
    return survey
