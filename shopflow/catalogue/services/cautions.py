"""Cautions: what may hurt someone, in the shop's own words, always with the line that defers."""

from __future__ import annotations

from django.db import transaction

from shopflow.catalogue.models import Caution
from shopflow.people.models import Person

from .rows import free_code
from .version import setting_up

DEFERS = (
    "This is a reminder, not training: follow local codes, the product’s safety data sheet "
    "and licensed practice."
)


def own_words(caution: Caution) -> str:
    """The caution without the line that always stays."""
    return _without_deferring(caution.text)


def _without_deferring(text: str) -> str:
    return text.strip().removesuffix(DEFERS).rstrip()


@transaction.atomic
def add_caution(*, title: str, words: str, figures: str, by: Person) -> Caution:
    setting_up(by)
    taken = set(Caution.objects.values_list("code", flat=True))
    made = Caution(code=free_code(title, taken=taken, otherwise="caution", most=30))
    return _fill(made, title=title, words=words, figures=figures)


@transaction.atomic
def change_caution(*, caution: Caution, title: str, words: str, figures: str, by: Person) -> Caution:
    setting_up(by)
    return _fill(caution, title=title, words=words, figures=figures)


def _fill(caution: Caution, *, title: str, words: str, figures: str) -> Caution:
    caution.title, caution.figures = title, figures
    caution.text = f"{_without_deferring(words)}\n\n{DEFERS}"
    caution.save()
    return caution
