"""Every instrument that was ever here."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.core.paginator import Page, Paginator
from django.db.models import F, Q, QuerySet

from shopflow.compute.calendar import IsoWeek, weeks_in_year
from shopflow.instruments.models import Instrument

A_PAGE = 50


@dataclass(frozen=True, slots=True)
class Wanted:
    """What somebody looks for; `with_owners` is for the office alone."""

    words: str = ""
    where: str = ""
    year: int | None = None
    with_owners: bool = False

    WHERE = (
        ("", "everywhere"),
        ("here", "in the house"),
        ("finished", "finished"),
        ("left", "left the house"),
        ("awaited", "not arrived yet"),
    )

    @property
    def is_narrow(self) -> bool:
        return bool(self.words or self.where or self.year)


def records(wanted: Wanted, *, page: str | None) -> Page[Instrument]:
    """A page of them, the latest arrivals first; two queries."""
    found = _where(Instrument.objects.all(), wanted.where)
    if wanted.year:
        found = found.filter(finished_on__range=_days_of(wanted.year))
    for word in wanted.words.split():
        found = found.filter(_told_by(word, with_owners=wanted.with_owners))
    related = ["route", "customer"] if wanted.with_owners else ["route"]
    ordered = found.select_related(*related).order_by(F("arrived_on").desc(nulls_first=True), "-pk")
    return Paginator(ordered, A_PAGE).get_page(page)


def _where(found: QuerySet[Instrument], where: str) -> QuerySet[Instrument]:
    here = Q(arrived_on__isnull=False, left_on=None)
    chosen = {
        "here": here,
        "finished": Q(finished_on__isnull=False),
        "left": Q(left_on__isnull=False),
        "awaited": Q(arrived_on=None),
    }
    return found.filter(chosen[where]) if where in chosen else found


def _days_of(year: int) -> tuple[date, date]:
    """The days of an ISO year, by which the Year page counts too."""
    return IsoWeek(year, 1).monday(), IsoWeek(year, weeks_in_year(year)).sunday()


def _told_by(word: str, *, with_owners: bool) -> Q:
    """Number, maker, serial, kind or year of building; the owner's name only where owners may be seen."""
    fits = Q(number__istartswith=word) | Q(maker__icontains=word) | Q(serial__icontains=word)
    fits |= Q(kind__istartswith=word)
    if word.isascii() and word.isdecimal() and len(word) == 4:
        fits |= Q(year_built=int(word))
    if with_owners:
        fits |= Q(customer__name__icontains=word)
    return fits
