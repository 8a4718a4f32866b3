"""The first person of a shop, from the command line."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from shopflow.people.models import Person, Role
from tests import cast

pytestmark = pytest.mark.django_db


def add_owner(*given: str) -> str:
    said = StringIO()
    call_command("add_owner", *given, stdout=said)
    return said.getvalue()


def password_in(said: str) -> str:
    return said.split("shown only now: ")[1].split()[0]


def test_an_owner_is_made_and_can_come_in():
    said = add_owner("Ottilie Marsh")
    browser = Client()
    given = {"sign_in_name": "ottilie-marsh", "password": password_in(said)}
    assert browser.post("/sign-in/", given).status_code == 302
    assert Person.objects.get().role == Role.OWNER
    assert browser.get("/set-up/people/").headers["Location"] == "/me/"


def test_an_owner_who_lost_the_password_gets_another_and_is_let_in_again():
    owner = cast.owner()
    Person.objects.update(is_active=False)
    said = add_owner("Ottilie Marsh")
    owner.refresh_from_db()
    assert owner.is_active
    assert owner.check_password(password_in(said))


def test_nobody_else_becomes_owner_by_it():
    cast.manager()
    with pytest.raises(CommandError, match="here already, as manager"):
        add_owner("Maud Ferrier")
    assert Person.objects.get().role == Role.MANAGER


@pytest.mark.parametrize("given", [[""], ["x" * 61], ["Ottilie", "--sign-in-name", "not a slug"]])
def test_a_name_that_cannot_be_is_refused(given):
    with pytest.raises(CommandError):
        add_owner(*given)
    assert not Person.objects.exists()
