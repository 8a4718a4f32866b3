"""Reports that went home with their pianos already: the pianos know now that they were handed over."""

from __future__ import annotations

from django.db import migrations
from django.utils import timezone


def note_what_was_handed_over(apps, schema_editor):
    passages = apps.get_model("workshop", "Passage").objects
    noted = set()
    given = apps.get_model("offers", "Handover").objects.exclude(handed_over_at=None)
    for handover in given.select_related("instrument").order_by("handed_over_at"):
        piano, at = handover.instrument, handover.handed_over_at
        later = passages.filter(
            instrument=piano, kind__in=["returned", "reopened"], recorded_at__gt=at
        ).exists()
        if later or piano.pk in noted or handover.handed_over_by_id is None:
            continue
        noted.add(piano.pk)
        piano.handed_on = timezone.localdate(at)
        piano.save(update_fields=["handed_on"])
        passages.create(
            instrument=piano,
            kind="handed",
            on=piano.handed_on,
            by_id=handover.handed_over_by_id,
            recorded_at=at,
        )


class Migration(migrations.Migration):
    dependencies = [
        ("offers", "0007_care_by_what_was_done"),
        ("instruments", "0006_when_it_was_handed_over"),
        ("workshop", "0007_handed_over_is_a_passage"),
    ]
    operations = [migrations.RunPython(note_what_was_handed_over, migrations.RunPython.noop)]
