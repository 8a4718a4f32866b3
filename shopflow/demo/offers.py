"""Offers of the demo: none yet, being written, waiting, replaced, declined, approved on paper and by link."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from math import ceil
from typing import Any

from django.db.models import Count, Q, QuerySet

from shopflow.catalogue.selectors import the_shop
from shopflow.common import clock
from shopflow.common.models import Job
from shopflow.instruments.models import Finding, Instrument
from shopflow.offers.models import Offer, Option
from shopflow.offers.services import approving, drafting, offers, sending
from shopflow.people.models import Person
from shopflow.photos.models import Photo
from shopflow.photos.services import make_copies
from shopflow.workshop.models import Task
from shopflow.workshop.services import moves
from shopflow.workshop.services.taps import TapIn

from .opening import Opening

KEEP_GOING, GOOD_ORDER, REBUILT, CASE_ONLY = (
    Option.Level.KEEP_GOING,
    Option.Level.GOOD_ORDER,
    Option.Level.REBUILT,
    Option.Level.CASE_ONLY,
)
WORDS = (
    "Thank you for letting us look over your piano. What we found is written below, with what we would do "
    "about it and what it costs.\n\nRead it at your leisure, and ring us with whatever is not clear."
)
VALUE = (
    "Work costs the same on a plain piano as on a famous one, and a plain one does not gain its price by it. "
    "What it means to your family counts as well, and only you can weigh that."
)
# Hours of one piano that the benches of this shop get through in a week: invented, as all of the demo.
HOURS_A_WEEK = 16


@dataclass(frozen=True, slots=True)
class Tale:
    """What became of an offer, and how many days ago it was sent."""

    outcome: str
    levels: tuple[Option.Level, ...]
    days_ago: int = 0
    approved: int = 0


# The pianos with the most findings come first.
TALES = (
    Tale("approved", (KEEP_GOING, GOOD_ORDER, REBUILT), days_ago=9, approved=0),
    Tale("replaced", (GOOD_ORDER, REBUILT), days_ago=8),
    Tale("waiting", (KEEP_GOING, GOOD_ORDER, REBUILT, CASE_ONLY), days_ago=5),
    Tale("declined", (GOOD_ORDER, REBUILT), days_ago=12),
    Tale("draft", (KEEP_GOING, GOOD_ORDER)),
    Tale("on paper", (GOOD_ORDER, REBUILT), days_ago=6, approved=0),
)


def make_offers(*, by: Person) -> None:
    """One tale for each surveyed piano, as far as there are any; the others have no offer yet."""
    for tale, piano in zip(TALES, _surveyed(), strict=False):
        _copies_of_photos(piano)
        _tell(tale, piano, by)
    # The letters of what was agreed went out in their time; the plan has said its weeks.
    Job.objects.filter(kind=approving.MAIL).delete()


def _surveyed() -> QuerySet[Instrument]:
    """In the house, surveyed, with something to decide; those without laid-out work first."""
    open_ones = Q(findings__state=Finding.State.OPEN, findings__taken_back_at=None)
    rows = Instrument.objects.in_the_house().filter(surveys__finished_at__isnull=False, tasks__snags=None)
    counted = rows.annotate(
        found=Count("findings", filter=open_ones, distinct=True),
        laid_out=Count("tasks", distinct=True),
    )
    return counted.filter(found__gte=3).exclude(customer=None).order_by("laid_out", "-found", "number")


def _tell(tale: Tale, piano: Instrument, by: Person) -> None:
    with _days_ago(tale.days_ago + 1, piano):
        offer = drafting.draft(instrument=piano, levels=tale.levels, by=by)
        Offer.objects.filter(pk=offer.pk).update(words=WORDS, value_words=VALUE)
    if tale.outcome == "draft":
        return
    out = _send(offer, tale.days_ago, by)
    if tale.outcome == "replaced":
        _replace(out.offer, by)
    elif tale.outcome == "declined":
        with _days_ago(2, piano):
            offers.decline(offer=out.offer, by=by, why="the money is needed for the roof this year")
    elif tale.outcome in {"approved", "on paper"}:
        _approve(tale, out, by)


def _send(offer: Offer, days: int, by: Person) -> sending.Sent:
    for option in offer.options.all():
        weeks = max(Decimal(1), Decimal(ceil(option.hours / HOURS_A_WEEK)))
        Option.objects.filter(pk=option.pk).update(
            weeks_low=weeks, weeks_likely=weeks * Decimal("1.3"), weeks_high=weeks * Decimal("1.6")
        )
    offer.refresh_from_db()
    customer = offer.instrument.customer
    with _days_ago(days, offer.instrument):
        return sending.send(
            offer=offer, seen_edition=offer.edition, by=by, for_whom=customer.name if customer else ""
        )


def _replace(first: Offer, by: Person) -> None:
    """The customer asked for something lighter: a way more, and both versions stay to be read."""
    with _days_ago(3, first.instrument):
        second = offers.copy_as_draft(offer=first, by=by)
        drafting.add_option(offer=second, level=KEEP_GOING, seen_edition=second.edition, by=by)
    _send(second, 2, by)


def _approve(tale: Tale, out: sending.Sent, by: Person) -> None:
    offer, customer = out.offer, out.offer.instrument.customer
    option = list(offer.options.all())[tale.approved]
    name = customer.name if customer else "the owner"
    yes: dict[str, Any] = {
        "offer": offer,
        "option_id": option.pk,
        "typed_name": name,
        "fingerprint": offer.fingerprint,
    }
    with _days_ago(tale.days_ago - 4, offer.instrument):
        if tale.outcome == "on paper":
            approving.enter_approval(**yes, signed_on=clock.today(), by=by)
            offers.note_deposit(offer=offer, on=clock.today(), by=by)
        else:
            approving.approve(**yes, link=out.fresh.link)
    with _days_ago(tale.days_ago - 4, offer.instrument, hours=2):
        _tag(offer.instrument, by)


def _tag(piano: Instrument, by: Person) -> None:
    """It stands there already: once its work is laid out it gets its tag on the same day."""
    task = Task.objects.open().filter(instrument=piano, operation__code="receive").first()
    if task is None:
        return
    for stage_id in task.path[1:]:
        seen, key = task.stage_id, f"tag-{task.pk}-{stage_id}"
        answer = moves.move_task(
            task_id=task.pk, to_stage_id=stage_id, seen_stage_id=seen, by=by, tap=TapIn.of(key=key, by=by)
        )
        if answer.status != 200:
            raise RuntimeError(f"the demo was refused: {answer.said}")
        task.stage_id = stage_id


def _copies_of_photos(piano: Instrument) -> None:
    """What stands in an offer is fixed when it is sent: the photos of its findings must be ready by then."""
    waiting = Photo.objects.filter(instrument=piano, state=Photo.State.WAITING).exclude(finding=None)
    for photo in waiting:
        make_copies(photo)


@contextmanager
def _days_ago(days: int, piano: Instrument, hours: int = 0) -> Iterator[None]:
    """So many days before now, when the office is open, but never before the piano was surveyed."""
    surveyed = piano.surveys.exclude(finished_at=None).earliest("finished_at").finished_at
    moment = Opening.of_the_shop(the_shop().zone).working_moment(clock.now() - timedelta(days=days))
    moment += timedelta(hours=hours)
    earliest = (surveyed or moment) + timedelta(hours=1 + hours)
    with clock.at(min(clock.now(), max(moment, earliest))):
        yield
