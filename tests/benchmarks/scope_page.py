"""How long one move of the Scope page's slider takes, beside one bare run of the solver in the same run.

    .venv/bin/python -m tests.benchmarks.scope_page

Two pianos: one with every kind of finding of the trade's library, one with a third of them. The floor is one
run of the solver (HiGHS) for the best set of the same choices: no next step, no curve, no page.
"""

# ruff: noqa: E402 -- Django is set up before anything of the shop is imported.

from __future__ import annotations

import os
from decimal import Decimal

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

import django

django.setup()

from django.test import Client

from shopflow.catalogue.models import FindingKind
from shopflow.catalogue.services.trade import load_trade
from shopflow.compute.scope.solver import minimise
from shopflow.instruments.models import Finding, Instrument, Survey
from shopflow.offers.selectors.scope import Weighing, Wishes, answer, asked, choices, later
from shopflow.people.models import Person
from tests import cast
from tests.benchmarks.boards import main, median_ms


def surveyed(number: str, every: int) -> Instrument:
    """An upright with every so many of the library's kinds of finding, none of them unsafe."""
    by = Person.objects.get(sign_in_name="maud-ferrier")
    instrument = cast.instrument(by=by, number=number)
    survey = Survey.objects.create(instrument=instrument, number=1, by=by)
    kinds = FindingKind.objects.exclude(only_for="grand").order_by("code")[::every]
    for place, kind in enumerate(kinds, 1):
        Finding.objects.create(
            survey=survey, instrument=instrument, group=kind.group, kind=kind, number=place, name=kind.name,
            severity=min(2, max(1, kind.usual_severity)), by=by,
        )  # fmt: skip
    return instrument


def measure() -> None:
    cast.shop()
    load_trade()
    client = Client()
    client.force_login(cast.manager())
    for number, every in (("501", 1), ("502", 3)):
        _measure_one(client, surveyed(number, every))


def _measure_one(client: Client, instrument: Instrument) -> None:
    weighing = Weighing.of(instrument)
    question = asked(weighing, Wishes())
    scales = question.question.scales
    budget = question.outline(50)[25][0]
    limit = scales.steps(budget)
    floor = median_ms(lambda: minimise(scales, [-each for each in scales.worths], limit, None, {}), 5)
    fresh = median_ms(lambda: _thought_anew(instrument, budget))
    page = f"/instruments/{instrument.number}/scope/?budget={budget:.0f}"
    step = median_ms(lambda: client.get(page, headers={"HX-Request": "true"}))
    choices = sum(len(one.remedies) for one in weighing.mendable)
    print(f"{len(weighing.mendable)} findings, {choices} remedies, {len(scales.costs)} choices in all")
    print(f"{'  floor: one bare run of the solver':44} {floor:8.1f} ms")
    print(f"{'  a first answer: read, thought through':44} {fresh:8.1f} ms   {fresh / floor:6.2f} runs")
    print(f"{'  one more move of the slider, as a page':44} {step:8.1f} ms   {step / floor:6.2f} runs")


def _thought_anew(instrument: Instrument, budget: Decimal) -> None:
    choices._question.cache_clear()
    later._alone.cache_clear()
    answer(asked(Weighing.of(instrument), Wishes()), Wishes(), budget)


if __name__ == "__main__":
    main(measure)
