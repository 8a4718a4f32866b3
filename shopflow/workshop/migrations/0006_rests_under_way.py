"""Open tasks get the least rest of their operation; those that rest already, their earliest touch."""

from __future__ import annotations

from datetime import timedelta

from django.db import migrations


def know_the_least(apps, schema_editor):
    tasks = apps.get_model("workshop", "Task").objects.filter(dropped_at=None)
    resting = tasks.exclude(stage__kind="signed").filter(operation__rest__isnull=False)
    changed = []
    for task in resting.select_related("operation__rest", "stage"):
        task.least_rest_hours = task.operation.rest.hours_low
        if task.stage.kind == "resting":
            task.earliest_touch = task.stage_since + timedelta(hours=float(task.least_rest_hours))
        changed.append(task)
    tasks.model.objects.bulk_update(changed, ["least_rest_hours", "earliest_touch"], batch_size=500)


class Migration(migrations.Migration):
    dependencies = [("workshop", "0005_the_least_rest"), ("catalogue", "0002_conditions_money_and_sheets")]

    operations = [migrations.RunPython(know_the_least, migrations.RunPython.noop)]
