"""Questions to the plans: which one stands, and how two differ, in words."""

from __future__ import annotations

from datetime import datetime

from shopflow.planning.models import InstrumentOutlook, Plan
from shopflow.planning.words import day, day_by

# Less than this is no difference that anybody would act on.
WORTH_SAYING_DAYS = 1.0


def published() -> Plan | None:
    return Plan.objects.filter(state=Plan.State.PUBLISHED).first()


def drafts() -> list[Plan]:
    return list(Plan.objects.filter(state=Plan.State.DRAFT).order_by("-pk")[:20])


def differences(one: Plan, other: Plan) -> list[str]:
    """What changes from one plan to the other: the figures first, then each instrument that moves."""
    return [*_figures(one, other), *_instruments(one, other)]


def _figures(one: Plan, other: Plan) -> list[str]:
    said = []
    for key, words in (
        ("promises_at_risk", "promises more likely broken than kept"),
        ("expected_late", "promises expected to be broken"),
    ):
        before, after = one.figures.get(key), other.figures.get(key)
        if before is not None and after is not None and round(before, 1) != round(after, 1):
            said.append(f"{words}: {round(before, 1):g} before, {round(after, 1):g} after")
    before, after = _odds(one), _odds(other)
    if before is not None and after is not None and round(before * 100) != round(after * 100):
        said.append(f"odds of the year’s target: {100 * before:.0f} % before, {100 * after:.0f} % after")
    return said


def _odds(plan: Plan) -> float | None:
    return (plan.figures.get("year") or {}).get("odds")


def _instruments(one: Plan, other: Plan) -> list[str]:
    before = {row.instrument_id: row for row in _outlooks(one)}
    moved = []
    for row in _outlooks(other):
        old = before.get(row.instrument_id)
        days = _days(old.p80, row.p80) if old else 0.0
        if old and abs(days) >= WORTH_SAYING_DAYS:
            words = f"{row.instrument.number} {_day(old.p80)} → {_day(row.p80)}, {_words(days)}"
            moved.append((days, words))
    return [words for _, words in sorted(moved)]


def _outlooks(plan: Plan) -> list[InstrumentOutlook]:
    return list(InstrumentOutlook.objects.filter(plan=plan).select_related("instrument"))


def _days(old: datetime, new: datetime) -> float:
    return (new - old).total_seconds() / 86_400


def _day(moment: datetime) -> str:
    return day(day_by(moment))


def _words(days: float) -> str:
    count = round(abs(days))
    return f"{count} day{'s' if count != 1 else ''} {'later' if days > 0 else 'sooner'}"
