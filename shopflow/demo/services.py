"""Setting up Quillmere Piano Works: the invented shop in which a newcomer can try everything."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from shopflow.catalogue.models import Department, Shop
from shopflow.catalogue.services import load_trade
from shopflow.common import clock
from shopflow.people.models import Person, Role, Tablet
from shopflow.planning.models import AnnualTarget, ClosedDay
from shopflow.planning.services.things import put_usual_things
from shopflow.reports.services import make_what_is_due

from . import crew
from .changes import surprise_owners
from .crates import pack_crates
from .handovers import hand_over_pianos, leave_some
from .offers import make_offers
from .opening import Opening
from .photos import take_photos
from .pieces import Worker
from .play import Play
from .scales import read_strings_and_keys
from .scopes import keep_scopes
from .sheets import fill_sheets
from .surveys import survey_pianos, to_be_looked_at

MONTHS_PLAYED = 21
TARGET = 66
SEED = 1871


class NotEmpty(Exception):
    """The demo goes only into a shop that has nothing yet."""


def load_demo(*, seed: int = SEED, say: Callable[[str], None] = lambda _: None) -> Path:
    """Fill an empty shop with the demo; returns the file that says how everybody signs in."""
    if Person.objects.exists() or Department.objects.exists():
        raise NotEmpty("This shop has people or departments already; the demo goes only into an empty one.")
    with transaction.atomic():
        say("the catalogue of the trade")
        load_trade()
        shop = _shop()
        with timezone.override(shop.zone):
            ways = crew.hire()
            codes = crew.tablets()
            _calendar(clock.today())
            put_usual_things()
            say(f"{MONTHS_PLAYED} months of work, played hour by hour")
            people = [way.person for way in ways]
            _play(seed=seed, shop=shop, people=people)
            say("drawn photos")
            take_photos(rng=random.Random(seed), by=_manager(people))
            say("surveys")
            surveyor = next(person for person in people if person.sign_in_name == "wilhelmina")
            survey_pianos(rng=random.Random(seed), zone=shop.zone, by=surveyor)
            say("offers")
            make_offers(by=_manager(people))
            keep_scopes(by=_manager(people))
            say("bench sheets")
            fill_sheets(rng=random.Random(seed), by=_manager(people))
            read_strings_and_keys(rng=random.Random(seed), by=_manager(people))
            say("change orders and handovers")
            surprise_owners(rng=random.Random(seed), zone=shop.zone, by=_manager(people))
            hand_over_pianos(rng=random.Random(seed), zone=shop.zone, by=_manager(people), crew=people)
            leave_some(by=_manager(people))
            say("crates and marked photos")
            pack_crates(rng=random.Random(seed), people=people)
    return _write_paper(crew.paper(ways, codes))


def _shop() -> Shop:
    return Shop.objects.create(
        pk=1,
        name="Quillmere Piano Works",
        town="Quillmere",
        address="The Old Sail Loft\nHarbour Road\nQuillmere",
        time_zone="Europe/London",
        hands_on_share=Decimal("0.70"),
        is_demo=True,
    )


def _calendar(today: date) -> None:
    """A target for each year the play touches, and the weeks in which the whole shop is closed."""
    years = range(today.year - 2, today.year + 2)
    AnnualTarget.objects.bulk_create(AnnualTarget(year=year, instruments=TARGET) for year in years)
    closed: dict[date, str] = {}
    for year in years:
        winter = [date(year, 12, 24) + timedelta(days=n) for n in range(10)]
        summer_start = date(year, 8, 1)
        summer = [summer_start + timedelta(days=(7 - summer_start.weekday()) % 7 + n) for n in range(5)]
        closed |= dict.fromkeys(winter, "winter closing") | dict.fromkeys(summer, "summer closing")
    ClosedDay.objects.bulk_create(
        ClosedDay(day=day, name=name) for day, name in sorted(closed.items()) if day.weekday() < 5
    )


def _play(*, seed: int, shop: Shop, people: list[Person]) -> None:
    rng = random.Random(seed)
    end = clock.now()
    begin = datetime.combine(
        timezone.localdate(end) - timedelta(days=round(MONTHS_PLAYED * 30.4)), time(8), tzinfo=shop.zone
    )
    at_benches = Tablet.objects.exclude(department=None).select_related("department")
    tablets = {tablet.department.code: tablet for tablet in at_benches if tablet.department}
    by_name = {person.sign_in_name: person for person in people}
    Play(
        rng=rng,
        opening=Opening.of_the_shop(shop.zone),
        begin=begin,
        end=end,
        manager=_manager(people),
        workers=[
            _worker(member, by_name[member.sign_in_name], tablets, rng, begin.date(), end.date())
            for member in crew.CREW
            if member.home
        ],
        to_be_looked_at=to_be_looked_at(),
        on_monday=make_what_is_due,
    ).run()


def _manager(people: list[Person]) -> Person:
    return next(person for person in people if person.role == Role.MANAGER)


def _worker(
    member: crew.Member,
    person: Person,
    tablets: dict[str, Tablet],
    rng: random.Random,
    begin: date,
    end: date,
) -> Worker:
    return Worker(
        person=person,
        home=member.home,
        also=member.also,
        week=dict(enumerate(member.hours)),
        pace=member.pace,
        tablet=tablets.get(member.home),
        away=_away(rng, begin, end),
    )


def _away(rng: random.Random, begin: date, end: date) -> set[date]:
    """Three weeks of leave a year besides the closings, and now and then a day in bed."""
    away: set[date] = set()
    for year in range(begin.year, end.year + 1):
        for _ in range(3):
            monday = date.fromisocalendar(year, rng.randint(2, 50), 1)
            away |= {monday + timedelta(days=n) for n in range(5)}
    days = (end - begin).days
    return away | {begin + timedelta(days=rng.randrange(days)) for _ in range(days // 60)}


def _write_paper(words: str) -> Path:
    paper = Path(settings.DATA_DIR) / "demo-people.txt"
    paper.touch(mode=0o600)
    paper.write_text(words)
    return paper
