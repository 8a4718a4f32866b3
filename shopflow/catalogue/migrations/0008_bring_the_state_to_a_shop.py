"""A shop that works with an earlier catalogue gets the state of the piano, and keeps what it made its own.

What it never touched takes the corrections (hours of work that was split, stages, routes, remedies). Pairs
of operations that the catalogue itself once named are said by the state now; the shop's own pairs stay as
wishes: what had to be in the job goes along (`also`), what came before still does (`after`).
"""

from __future__ import annotations

import json
from pathlib import Path

from django.db import migrations

from shopflow.catalogue.models.work import fresh_version
from shopflow.catalogue.services.upgrading import Upgrading

EARLIER = Path(__file__).with_name("earlier_catalogue.json")


def bring_the_state(apps, schema_editor):
    earlier = json.loads(EARLIER.read_text(encoding="utf-8"))

    def model_of(name):
        return apps.get_model("catalogue", name)

    if not model_of("Operation").objects.exists():
        return
    Upgrading(model_of, earlier).everything()
    model_of("Shop").objects.update(catalogue_version=fresh_version())


class Migration(migrations.Migration):
    dependencies = [("catalogue", "0007_note_what_to_look_at")]

    operations = [migrations.RunPython(bring_the_state, migrations.RunPython.noop)]
