"""Who gets the weekly report."""

from __future__ import annotations

import logging

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from shopflow.catalogue.selectors import the_shop
from shopflow.people.models import OFFICE, Person

log = logging.getLogger(__name__)


def readers() -> list[str]:
    """The addresses that the shop names, else every owner's and manager's; doubles and misspelt left out."""
    named = [line.strip() for line in the_shop().report_readers.splitlines()]
    people = Person.objects.working().filter(role__in=OFFICE).exclude(email="")
    addresses = [line for line in named if line] or people.values_list("email", flat=True)
    return [one for one in dict.fromkeys(addresses) if _is_address(one)]


def _is_address(given: str) -> bool:
    try:
        validate_email(given)
    except ValidationError:
        log.warning("the weekly report has a reader whose address cannot be right: %r", given)
        return False
    return True
