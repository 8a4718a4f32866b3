"""What the balance found, and a draft beside today's plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import timezone

from shopflow.catalogue.selectors import the_shop
from shopflow.common import clock
from shopflow.common.models import Job
from shopflow.planning.measures import LendAHand, Measure, from_data
from shopflow.planning.models import Plan
from shopflow.planning.said import Names
from shopflow.planning.services.balance import KIND
from shopflow.planning.trying import Outcome

from .hands import CrewBook, crew_book

SHOWN = 15
# Less than this is the dice, not the measure.
WORTH_SAYING = 0.1


@dataclass(frozen=True, slots=True)
class Help:
    """One measure with what it would do."""

    place: int
    measure: Measure
    words: str
    alike: list[str]
    hands: str
    before: Outcome
    after: Outcome
    gain: float

    @property
    def helps(self) -> bool:
        return self.gain >= WORTH_SAYING


@dataclass(frozen=True, slots=True)
class Found:
    """The answer to "what would help most?", as of one moment."""

    job: Job
    at: datetime
    last_move: int
    tried: int
    of: int
    seconds: int
    before: Outcome
    rows: list[Help]


def latest_job() -> Job | None:
    return Job.objects.filter(kind=KIND).order_by("-pk").first()


def found() -> Found | None:
    """The last answer that was found, best first."""
    job = Job.objects.filter(kind=KIND, result__isnull=False).order_by("-pk").first()
    return _found(job, job.result) if job is not None and job.result else None


def measure_of(job_pk: int, place: int) -> Measure | None:
    """The measure in one row of an answer; None where there is none."""
    job = Job.objects.filter(pk=job_pk, kind=KIND).first()
    rows = (job.result or {}).get("rows", []) if job else []
    return from_data([rows[place]["measure"]])[0] if 0 <= place < len(rows) else None


def _found(job: Job, result: dict[str, Any]) -> Found:
    before = Outcome(**result["before"])
    measures = [from_data([row["measure"], *row["alike"]]) for row in result["rows"]]
    names = Names.for_measures([one for some in measures for one in some])
    hands = _HandsMoved.of([some[0] for some in measures])
    rows = [
        Help(
            place=place,
            measure=some[0],
            words=names.say(some[0]),
            alike=[names.say(one) for one in some[1:]],
            hands=hands.say(some[0], names),
            before=before,
            after=Outcome(**row["after"]),
            gain=row["gain"],
        )
        for place, (row, some) in enumerate(zip(result["rows"], measures, strict=True))
    ]
    at = timezone.localtime(datetime.fromisoformat(result["now"]))
    figures = {name: result[name] for name in ("last_move", "tried", "of", "seconds")}
    return Found(job=job, at=at, before=before, rows=rows[:SHOWN], **figures)


@dataclass(frozen=True, slots=True)
class _HandsMoved:
    """What a measure moves or adds, by the hours and the leave of the one person whom it concerns."""

    book: CrewBook
    share: float

    @classmethod
    def of(cls, measures: Sequence[Measure]) -> _HandsMoved:
        first = min((one.first_day for one in measures if isinstance(one, LendAHand)), default=clock.today())
        return cls(crew_book(first=first), float(the_shop().hands_on_share))

    def say(self, one: Measure, names: Names) -> str:
        if not isinstance(one, LendAHand):
            return ""
        days = self.book.presences(one.first_day, one.last_day)
        hours = self.share * sum(day.hours for day in days if day.person_id == one.person)
        home = next((person.home for person in self.book.people if person.pk == one.person), None)
        less = f", which {home} goes without" if home else ""
        who = names.people.get(one.person, "One hand")
        return f"{who} has {hours:.0f} h of hands-on work in that time{less}."


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a plan beside the same of another, already written."""

    words: str
    now: str
    draft: str
    differs: bool


def figures_beside(now: dict[str, Any], draft: dict[str, Any]) -> list[Figure]:
    """The figures of two plans, side by side."""
    rows = [
        ("promises more likely broken than kept", "promises_at_risk", "{:g}"),
        ("promises expected to be broken", "expected_late", "{:.1f}"),
        ("odds of the year’s target", "odds", "{:.0%}"),
        ("instruments in the year, on average", "mean", "{:.1f}"),
    ]
    flat_now, flat_draft = _flat(now), _flat(draft)
    made = []
    for words, key, form in rows:
        before, after = (_written(flat.get(key), form) for flat in (flat_now, flat_draft))
        made.append(Figure(words, before, after, differs=before != after))
    return made


def _written(value: float | None, form: str) -> str:
    return "–" if value is None else form.format(value).replace("%", " %")


def measures_said(plan: Plan) -> list[str]:
    measures = from_data(plan.measures)
    names = Names.for_measures(measures)
    return [names.say(one) for one in measures]


def _flat(figures: dict[str, Any]) -> dict[str, Any]:
    return (figures.get("year") or {}) | figures
