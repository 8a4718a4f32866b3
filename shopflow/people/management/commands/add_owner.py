"""`manage.py add_owner "Ottilie Marsh"`: a shop's first person; an owner's new password."""

from __future__ import annotations

import argparse
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management import BaseCommand, CommandError
from django.db import transaction
from django.utils.text import slugify

from shopflow.people.models import Person, Role
from shopflow.people.services import keys, staff


class Command(BaseCommand):
    help = "Makes an owner and prints a password, once. For an owner who is there already: a new password."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("name", help='the full name, such as "Ottilie Marsh"')
        parser.add_argument("--sign-in-name", default="", help="else made from the name")

    @transaction.atomic
    def handle(self, *, name: str, sign_in_name: str, **_: Any) -> None:
        who = sign_in_name or slugify(name)[:40]
        person = Person.objects.filter(sign_in_name=who).first() or self._new(name.strip(), who)
        if person.role != Role.OWNER:
            raise CommandError(
                f"{who} is here already, as {person.get_role_display()}. Choose --sign-in-name."
            )
        Person.objects.filter(pk=person.pk).update(is_active=True)
        password = keys.reset_password(person=person)
        self.stdout.write(f"Sign-in name: {who}\nPassword, shown only now: {password}")
        self.stdout.write("After signing in, the shop asks for a password of your own.")

    def _new(self, name: str, who: str) -> Person:
        try:
            Person(name=name, sign_in_name=who, role=Role.OWNER, password="to come").full_clean()
        except ValidationError as refused:
            raise CommandError(" ".join(refused.messages)) from None
        return staff.create_person(name=name, sign_in_name=who, role=Role.OWNER)
