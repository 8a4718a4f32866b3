"""A week in sentences, made from its frozen figures: for the top of the page, the PDF and the letter."""

from __future__ import annotations

from datetime import date

from shopflow.compute.calendar import IsoWeek

from .figures import Figures, LeadTimes, YearSoFar


def summary(figures: Figures) -> list[str]:
    """What an owner would want to hear of the week, the most important first."""
    said = [_finished(figures), year(figures["year"]), ahead(figures), _narrow(figures), _door(figures)]
    said += [_benches(figures), _lead_time(figures), _snags(figures), _late(figures)]
    return [sentence for sentence in said if sentence]


def title(week: str) -> str:
    """
    >>> title("2026-W48")
    'Week 48 of 2026'
    """
    one = IsoWeek.parse(week)
    return f"Week {one.week} of {one.year}"


def dates(figures: Figures) -> str:
    """Monday to Sunday in full; of a running week only what is over."""
    first, last = (date.fromisoformat(figures[end]) for end in ("first_day", "last_day"))
    begin = f"{first.day} {first:%B}" if first.month != last.month else f"{first.day}"
    begin += f" {first.year}" if first.year != last.year else ""
    return f"Monday {begin} to Sunday {last.day} {last:%B %Y}"


def day(written: str | None) -> str:
    """
    >>> day("2026-11-04"), day(None)
    ('4 Nov', '–')
    """
    if written is None:
        return "–"
    one = date.fromisoformat(written)
    return f"{one.day} {one:%b}"


def subject(figures: Figures) -> str:
    """The subject of the letter; a shop's name with line breaks cannot break out of it."""
    shop = " ".join(figures["shop"]["name"].split())
    return f"{shop}: {title(figures['week']).lower()}, {figures['finished']['net']} finished"


def number(value: float) -> str:
    """A figure as one would say it, with at most one decimal.

    >>> number(2.04), number(1.26), number(-0.04)
    ('2', '1.3', '0')
    """
    # A rounded -0.04 would else be said as minus nothing.
    return f"{round(value, 1) or 0.0:,.1f}".removesuffix(".0")


def count(how_many: int, one: str, many: str = "") -> str:
    """
    >>> count(1, "task"), count(3, "task"), count(0, "snag is", "snags are")
    ('1 task', '3 tasks', '0 snags are')
    """
    return f"{how_many} {one if how_many == 1 else many or one + 's'}"


def _finished(figures: Figures) -> str:
    net, needed = figures["finished"]["net"], figures["needed"]
    head = f"{net} finished so far" if figures["so_far"] else f"{net} finished"
    again = figures["finished"]["opened_again"]
    if again:
        head += f" ({len(figures['finished']['rows'])}, less {len(again)} of an earlier week opened again)"
    if needed is None:
        return f"{head}."
    if not needed:
        return f"{head}, in a week in which the shop was closed."
    return f"{head}, {compared(net, needed)} the {number(needed)} that the year's target needs of this week."


def compared(have: float, needed: float) -> str:
    """
    >>> compared(3, 1.4), compared(1, 1.4), compared(2, 2)
    ('1.6 more than', '0.4 fewer than', 'just')
    """
    gap = round(have - needed, 1)
    if not gap:
        return "just"
    return f"{number(abs(gap))} {'more' if gap > 0 else 'fewer'} than"


def year(told: YearSoFar) -> str:
    """Where the year stands against its target, and what it needs from here."""
    head = f"{told['finished']} finished in {told['year']}"
    if told["target"] is None or told["aim"] is None:
        return f"{head}; no target is set for that year."
    head += f", {compared(told['finished'], told['aim'])} the {number(told['aim'])} that are level"
    head += f" with the target of {told['target']}."
    if told["finished"] >= told["target"]:
        return f"{head} The target is reached."
    if told["needed_per_week"] is None:
        return f"{head} No working week of the year is left."
    weeks = number(told["weeks_left"])
    return f"{head} From here each of the {weeks} working weeks left needs {number(told['needed_per_week'])}."


def ahead(figures: Figures) -> str:
    """Where the year will end, by the plan that stood when the report was made."""
    told = figures.get("ahead")
    if told is None:
        return ""
    return (
        f"By the plan of {day(told['planned_on'])} the odds of {told['target']} in {told['year']} are "
        f"{told['odds']:.0%}; 8 of 10 runs end the year between {told['p10']} and {told['p90']}."
    )


def _narrow(figures: Figures) -> str:
    told = figures.get("ahead")
    return told["narrow"] if told else ""


def _door(figures: Figures) -> str:
    hand = figures["in_hand"]
    left = count(len(figures["left"]), "left the house", "left the house")
    return (
        f"{len(figures['arrived'])} arrived and {left}; {count(hand['in_house'], 'is', 'are')} here: "
        f"{hand['under_way']} under way, {hand['not_started']} not started, "
        f"{hand['finished_waiting']} finished and waiting."
    )


def _benches(figures: Figures) -> str:
    rows = figures["benches"]
    signed = sum(row["signed"] for row in rows)
    earned, spent = (sum(row[key] for row in rows) for key in ("hours_earned", "hours_spent"))
    return f"{count(signed, 'task')} signed; {number(earned)} hours earned, {number(spent)} spent."


def _lead_time(figures: Figures) -> str:
    times = figures["lead_13_weeks"]
    if times["median"] is None or times["p80"] is None:
        return ""
    finished = count(times["n"], "instrument")
    return (
        f"Of {finished} finished in the last 13 weeks half took up to {number(times['median'])} days "
        f"from arrival, and four of five up to {number(times['p80'])}."
    )


def _snags(figures: Figures) -> str:
    snags = figures["snags"]
    if not snags:
        return "Nothing is stopped."
    oldest = max(snag["days"] for snag in snags)
    return f"{count(len(snags), 'snag is', 'snags are')} open, the oldest for {count(oldest, 'day')}."


def _late(figures: Figures) -> str:
    late = figures["late_taps"]
    if not late:
        return ""
    return (
        f"{count(late, 'tap')} of an earlier week came in late and {'counts' if late == 1 else 'count'} here."
    )


def stats(figures: Figures) -> list[tuple[str, str]]:
    """The week's main figures, each with the words that follow it."""
    told, rows = figures["year"], figures["benches"]
    of_target = f"of {told['target']} in {told['year']}" if told["target"] else f"finished in {told['year']}"
    return [
        (str(figures["finished"]["net"]), "finished so far" if figures["so_far"] else "finished"),
        (str(told["finished"]), of_target),
        (str(figures["in_hand"]["in_house"]), "in the house"),
        (str(sum(row["signed"] for row in rows)), "tasks signed"),
        (number(sum(row["hours_earned"] for row in rows)), "hours earned"),
        (str(len(figures["snags"])), "snag open" if len(figures["snags"]) == 1 else "snags open"),
    ]


def times(figures: Figures) -> list[list[str]]:
    """Lead times as a small table: this week, and the last thirteen."""
    return [_times("this week", figures["lead_week"]), _times("last 13 weeks", figures["lead_13_weeks"])]


def _times(label: str, told: LeadTimes) -> list[str]:
    middle, p80 = (
        f"{number(days)} days" if days is not None else "–" for days in (told["median"], told["p80"])
    )
    return [label, str(told["n"]), middle, p80]


def law(figures: Figures) -> str:
    """Little's law with both of its sides, as a check of the other figures."""
    told = figures["littles_law"]
    if told is None:
        return "Too little was finished yet to set work in hand against throughput and lead time."
    gap = told["in_hand"] - told["product"]
    close = abs(gap) <= 0.15 * max(told["in_hand"], told["product"])
    verdict = "The two sides agree." if close else f"The two sides differ by {number(abs(gap))}."
    verdict += f" In these weeks {told['came']:.0f} came into hand and {told['went']:.0f} went out of it"
    verdict += "." if close else "; they agree only where as much goes out as comes in."
    return (
        f"Work in hand = throughput × lead time, over {number(told['weeks'])} weeks: "
        f"{number(told['in_hand'])} in hand on average; {told['throughput']:.2f} a week × "
        f"{number(told['lead_weeks'])} weeks = {number(told['product'])}. {verdict}"
    )


def year_stats(told: YearSoFar, *, is_running: bool) -> list[tuple[str, str]]:
    """The year's main figures, each with the words that follow it."""
    stats = [(str(told["finished"]), "finished so far" if is_running else "finished")]
    if told["target"] is None or told["aim"] is None:
        return stats
    stats.append((str(told["target"]), "is the target"))
    if is_running:
        stats.append((number(told["aim"]), "would be level with it today"))
    if told["needed_per_week"]:
        stats.append((number(told["needed_per_week"]), "needed a week from now"))
    return stats
