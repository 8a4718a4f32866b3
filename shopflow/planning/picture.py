"""Timelines drawn: days along the top, a strip of bars for each row, what is closed shaded.

The names of the rows are the page's own text and stay in sight while the strips are moved sideways, so each
row is a drawing of its own. A bar tells its department by pattern and mark, and only then by colour.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.utils import timezone
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from shopflow.common.charts.draw import INK, SHEET, n, path, text, width_of
from shopflow.common.materials import MATERIALS, material
from shopflow.compute.calendar import IsoWeek
from shopflow.planning.words import day as day_words

TRACK, PAD, HEAD = 16.0, 3.0, 34.0
TILE = 30.0
SHADE, HAIR = "#e3d6b6", "#d8cba9"


@dataclass(frozen=True, slots=True)
class Bar:
    """One stretch of work: when, in which department, what is written on it, and what it says when asked."""

    starts: datetime
    ends: datetime
    material: str
    mark: str
    words: str
    rest_until: datetime | None = None
    url: str = ""

    @property
    def over(self) -> datetime:
        return max(self.ends, self.rest_until or self.ends)


@dataclass(frozen=True, slots=True)
class Paper:
    """So many days from a first one, and how wide each is."""

    first: date
    days: int
    per_day: float
    closed: Collection[date] = ()

    @property
    def width(self) -> float:
        return self.days * self.per_day

    @property
    def last(self) -> date:
        return self.first + timedelta(days=self.days - 1)

    def x(self, moment: datetime) -> float:
        """Where a moment lies by the shop's clock; what lies outside is held at the edge."""
        away = timezone.make_naive(moment) - datetime.combine(self.first, time())
        return min(self.width, max(0.0, away / timedelta(days=1) * self.per_day))

    def of_day(self, one: date) -> float | None:
        """The evening side of a day; None where it is not on this paper."""
        place = (one - self.first).days
        return (place + 0.8) * self.per_day if 0 <= place < self.days else None

    def ground(self, high: float) -> str:
        """Closed days shaded, a hairline on each Monday."""
        shut, mondays = [], []
        for place in range(self.days):
            one, x = self.first + timedelta(days=place), n(place * self.per_day)
            if one in self.closed:
                shut.append(f"M{x} 0h{n(self.per_day)}v{n(high)}h-{n(self.per_day)}z")
            if one.weekday() == 0:
                mondays.append(f"M{x} 0v{n(high)}")
        drawn = path("".join(shut), width=0, fill=SHADE) if shut else ""
        return drawn + path("".join(mondays), colour=HAIR)


def head(paper: Paper, now: datetime) -> SafeString:
    """The weeks along the top, their Mondays, and a mark for today."""
    weekly = 7 * paper.per_day
    parts = [paper.ground(HEAD)]
    for place in range(paper.days):
        one = paper.first + timedelta(days=place)
        if one.weekday() == 0:
            parts += _week_words(IsoWeek.of(one), one, place * paper.per_day + 3, weekly)
    x = paper.x(now)
    parts.append(path(f"M{n(x - 5)} {n(HEAD - 7)}h10l-5 7z", fill=INK, width=0))
    return _svg(paper.width, HEAD, "".join(parts), "Weeks")


def _week_words(week: IsoWeek, monday: date, x: float, room: float) -> list[str]:
    words = [text(x, 13, f"w{week.week}", size=13, colour=INK, bold=True)]
    if room > width_of(day_words(monday), 12):
        words.append(text(x, 28, day_words(monday), size=12))
    return words


def strip(
    paper: Paper, bars: Iterable[Bar], *, now: datetime, words: str, promised: date | None = None
) -> SafeString:
    """One row: its bars on as many tracks as lie side by side, the promise as a flag, today as a rule."""
    tracks = in_tracks(bars)
    high = max(1, len(tracks)) * TRACK + 2 * PAD
    parts = [paper.ground(high)]
    for place, track in enumerate(tracks):
        parts += [_bar(paper, bar, PAD + place * TRACK) for bar in track]
    parts.append(_today(paper, now, high))
    flag = paper.of_day(promised) if promised else None
    if flag is not None:
        parts.append(path(f"M{n(flag)} {n(high)}V1h9l-3 4l3 4h-9", width=2, fill=SHEET))
    return _svg(paper.width, high, "".join(parts), words)


def in_tracks(bars: Iterable[Bar]) -> list[list[Bar]]:
    """Bars laid so that none covers another, on as few tracks as that takes."""
    tracks: list[list[Bar]] = []
    for bar in sorted(bars, key=lambda one: (one.starts, one.ends)):
        free = next((track for track in tracks if track[-1].over <= bar.starts), None)
        if free is None:
            tracks.append([bar])
        else:
            free.append(bar)
    return tracks


def _today(paper: Paper, now: datetime, high: float) -> str:
    return path(f"M{n(paper.x(now))} 0v{n(high)}", colour=INK, width=1.5, dash="3 2")


def _bar(paper: Paper, bar: Bar, top: float) -> str:
    left, right = paper.x(bar.starts), paper.x(bar.ends)
    wide, high = max(2.5, right - left), TRACK - 2
    made = material(bar.material)
    drawn = (
        f'<rect x="{n(left)}" y="{n(top)}" width="{n(wide)}" height="{n(high)}" '
        f'fill="url(#tl-{made.slug})" stroke="{made.colour}"/>'
    )
    drawn += _rest(paper, bar, left + wide, top + high / 2, made.colour)
    drawn += _mark(bar.mark, left, wide, top)
    drawn = f"<title>{escape(bar.words)}</title>{drawn}"
    if bar.url:
        # Every bar's department stands in the legend as a link; here it is for the hand on a mouse.
        return f'<a href="{escape(bar.url)}" tabindex="-1">{drawn}</a>'
    return f"<g>{drawn}</g>"


def _rest(paper: Paper, bar: Bar, left: float, y: float, colour: str) -> str:
    if bar.rest_until is None or paper.x(bar.rest_until) <= left:
        return ""
    return path(f"M{n(left)} {n(y)}H{n(paper.x(bar.rest_until))}", colour=colour, width=2, dash="1.5 3")


def _mark(words: str, left: float, wide: float, top: float) -> str:
    """The mark on a plain ground, where there is room for it."""
    needs = width_of(words, 11) + 5
    if wide < needs:
        return ""
    ground = f'<rect x="{n(left + 1)}" y="{n(top + 1)}" width="{n(needs)}" height="{n(TRACK - 4)}" '
    return ground + f'fill="{SHEET}"/>' + text(left + 3, top + 11, words, size=11, colour=INK, bold=True)


def patterns(slugs: Sequence[str]) -> SafeString:
    """Once on a page, before its strips: the grounds with which bars are filled."""
    tiles = "".join(_tile(slug) for slug in sorted({material(slug).slug for slug in slugs}))
    return mark_safe(
        f'<svg xmlns="http://www.w3.org/2000/svg" class="tiles" width="0" height="0" aria-hidden="true">'
        f"<defs>{tiles}</defs></svg>"
    )


def _tile(slug: str) -> str:
    made = MATERIALS[slug]
    paint = f'fill="{made.colour}"' if made.dotted else f'fill="none" stroke="{made.colour}"'
    return (
        f'<pattern id="tl-{slug}" width="{n(TILE)}" height="{n(TRACK)}" patternUnits="userSpaceOnUse">'
        f'<rect width="{n(TILE)}" height="{n(TRACK)}" fill="{made.ground}"/>'
        f'<path d="{made.pattern(0, 0, TILE, TRACK)}" {paint}/></pattern>'
    )


def _svg(wide: float, high: float, body: str, words: str) -> SafeString:
    return mark_safe(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{n(wide)}" height="{n(high)}" '
        f'viewBox="0 0 {n(wide)} {n(high)}" role="img" aria-label="{escape(words)}">{body}</svg>'
    )
