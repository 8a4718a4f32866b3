"""Ways for tests to be a customer with a private link."""

from __future__ import annotations

from typing import Any

from django.test import Client

from shopflow.customers.services import links
from shopflow.instruments.models import Instrument
from shopflow.people.models import Person


def as_customer(instrument: Instrument, *, by: Person, **given: Any) -> Client:
    """A browser that was let in by a fresh link to this instrument."""
    browser = Client()
    fresh = links.make(instrument=instrument, by=by, **given)
    answer = browser.get(f"/yours/{fresh.token}/")
    assert answer.status_code == 302, answer.content
    return browser
