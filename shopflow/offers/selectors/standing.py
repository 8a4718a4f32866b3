"""Where an instrument stands, told to its owner: plainly, honestly, and nothing of the inside of the shop."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from shopflow.common import clock, keys
from shopflow.common.odds import odds_in_words
from shopflow.instruments.models import Instrument
from shopflow.workshop.models import Snag, Task
from shopflow.workshop.selectors.instrument import SIGNED, Part, TaskLine, Work, work_of
from shopflow.workshop.selectors.standing import State
from shopflow.workshop.selectors.stay import Stay, stay_of

from .report_work import visit_words

UNDER_HAND = {State.BENCHED, State.PROVING}
BEGUN = {*UNDER_HAND, State.RESTING}
# What stops work, as one would tell it on the telephone. Reasons and names of a snag stay in the shop.
PLAINLY = {
    Snag.Cause.CUSTOMER: "your decision",
    Snag.Cause.SUPPLIER: "something that we ordered from outside",
    Snag.Cause.PART: "a part that we still have to find or make",
    Snag.Cause.FAULT: "a detail that did not satisfy us and is being put right",
    Snag.Cause.BENCH: "its turn at the bench",
    Snag.Cause.CURE: "something to dry or settle",
    Snag.Cause.UNCLEAR: "a question that we have to settle first",
}
MOST_STEPS = 3


@dataclass(frozen=True, slots=True)
class Step:
    """One piece of work, in the words of the trade, and when it was done."""

    name: str
    department: str
    on: date | None = None


@dataclass(frozen=True, slots=True)
class Way:
    """How far one department has come: a piano key for each piece of work, those done pressed down."""

    department: str
    words: str
    picture: SafeString


@dataclass(frozen=True, slots=True)
class Visit:
    """Something that is still to be done at the owner's, and when."""

    name: str
    when: str


@dataclass(frozen=True, slots=True)
class Standing:
    headline: str
    last: Step | None = None
    under_hand: list[Step] = field(default_factory=list)
    ahead: list[Step] = field(default_factory=list)
    waits: list[str] = field(default_factory=list)
    finish: list[str] = field(default_factory=list)
    way: list[Way] = field(default_factory=list)
    visits: list[Visit] = field(default_factory=list)


def where_it_stands(instrument: Instrument, *, today: date) -> Standing:
    """All of it in a fixed number of queries, whatever the number of its tasks."""
    stay = stay_of(instrument)
    work = _of_this_stay(work_of(instrument), stay)
    if instrument.left_on or instrument.handed_on:
        visits = [_visit(task, instrument) for task in stay.open_tasks if task.at_the_owners]
        return Standing(headline=_headline(instrument), last=_last_done(stay), visits=visits)
    before_leaving = [line for line in work.lines if not line.task.at_the_owners]
    return Standing(
        headline=_headline(instrument),
        last=_last_done(stay),
        under_hand=[_step(line) for line in before_leaving if line.state in UNDER_HAND][:MOST_STEPS],
        ahead=[_step(line) for line in _next(before_leaving)][:MOST_STEPS],
        waits=_waits(before_leaving),
        finish=_finish(instrument, today=today),
        way=[_way(part) for part in _parts(work) if part.lines],
    )


def _headline(piano: Instrument) -> str:
    if piano.handed_on:
        return f"We handed it over on {_day(piano.handed_on)}.{_went_home(piano)}"
    if piano.left_on:
        return f"It went home on {_day(piano.left_on)}."
    if piano.finished_on:
        return f"It was finished on {_day(piano.finished_on)}. We will hand it over to you."
    if piano.arrived_on:
        return f"It has been with us since {_day(piano.arrived_on)}."
    return "It has not come to us yet."


def _went_home(piano: Instrument) -> str:
    return f" It went home on {_day(piano.left_on)}." if piano.left_on else ""


def _of_this_stay(work: Work, stay: Stay) -> Work:
    """What was signed when it was here before is another job's."""
    kept = {task.pk for task in (*stay.signed_tasks, *stay.open_tasks)}
    return Work([line for line in work.lines if line.task.pk in kept], work.sheet)


def _last_done(stay: Stay) -> Step | None:
    """The last signature of this stay; one that was undone is none."""
    if not stay.signed_tasks:
        return None
    last = stay.signed_tasks[-1]
    return Step(last.name, last.department.name, _local(last.stage_since))


def _visit(task: Task, piano: Instrument) -> Visit:
    return Visit(task.name, visit_words(task, went_home=piano.left_on or piano.handed_on))


def _next(lines: Iterable[TaskLine]) -> list[TaskLine]:
    """What can be taken next, the first of the plan first."""
    ready = [line for line in lines if line.state == State.READY]
    late = datetime.max.replace(tzinfo=timezone.get_current_timezone())
    return sorted(ready, key=lambda line: (line.task.planned_for or late, line.task.position))


def _waits(lines: Iterable[TaskLine]) -> list[str]:
    """Each thing once: what stops a piece of work, and what only has to rest."""
    stopped = [f"for {PLAINLY[Snag.Cause(snag.cause)]}" for line in lines for snag in line.snags]
    resting = [
        f"for “{line.task.name}”, which needs its time{_until(line)}" for line in lines if _rests(line)
    ]
    return list(dict.fromkeys([*stopped, *resting]))


def _rests(line: TaskLine) -> bool:
    """Still resting: what has rested long enough waits for a hand, as everything else does."""
    until = line.standing.rest_until if line.standing else None
    return line.state == State.RESTING and (until is None or until > clock.now())


def _until(line: TaskLine) -> str:
    until = line.standing.rest_until if line.standing else None
    return f" until about {_day(_local(until))}" if until else ""


def _finish(piano: Instrument, *, today: date) -> list[str]:
    """The honest range: what the plan of today says, what was promised, and how sure that is."""
    if piano.finished_on:
        return []
    told = []
    if piano.likely_by and piano.likely_by >= today:
        told.append(
            f"By our plan of today it is finished by {_day(piano.likely_by)} in four cases out of five;"
            " in the fifth it takes longer."
        )
    if piano.promised_on:
        told.append(f"We promised it for {_day(piano.promised_on)}.{_how_sure(piano, today)}")
    return told or ["We cannot say yet when it will be finished; we tell you here as soon as we can."]


def _how_sure(piano: Instrument, today: date) -> str:
    if piano.promised_on and piano.promised_on < today:
        return " That day has passed, and we are sorry: please ring us if we have not rung you."
    if piano.promise_odds is None:
        return ""
    odds = odds_in_words(piano.promise_odds)
    if odds == "hardly ever":
        return " As things stand we will hardly keep that day, and we say so early."
    if piano.promise_odds < 0.5:
        return f" As things stand we would keep that day in only {odds} cases, and we say so early."
    sure = "nearly surely" if odds == "nearly sure" else f"in {odds} cases"
    return f" As things stand we keep that day {sure}."


def _step(line: TaskLine) -> Step:
    return Step(line.task.name, line.task.department.name)


def _parts(work: Work) -> list[Part]:
    return Work([line for line in work.lines if not line.task.at_the_owners], work.sheet).parts


def _way(part: Part) -> Way:
    """A key for each piece of work; its shape tells how it stands, its depth whether it is done."""
    words = f"{part.signed} of {len(part.lines)} done"
    drawn = keys.run([_kind(line) for line in part.lines], [_depth(line) for line in part.lines])
    picture = format_html(
        '<svg class="gauge m-{}" viewBox="0 0 {} {}" role="img" aria-label="{}: {}">{}</svg>',
        part.department.material or "neutral",
        f"{keys.width(len(part.lines)):g}",
        keys.HEIGHT,
        part.department.name,
        words,
        mark_safe(drawn),
    )
    return Way(part.department.name, words, picture)


def _kind(line: TaskLine) -> str:
    return line.task.stage.kind if line.state in BEGUN or line.state == SIGNED else "racked"


def _depth(line: TaskLine) -> str:
    if line.state == SIGNED:
        return "done"
    return "now" if line.state in BEGUN else "ahead"


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _local(moment: datetime) -> date:
    return timezone.localdate(moment)
