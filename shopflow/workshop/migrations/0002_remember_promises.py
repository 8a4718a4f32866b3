import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import shopflow.common.clock


class Migration(migrations.Migration):
    dependencies = [
        ("instruments", "0001_start"),
        ("workshop", "0001_start"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="PromiseMade",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("on", models.DateField(blank=True, null=True, verbose_name="promised for")),
                ("instead_of", models.DateField(blank=True, null=True)),
                ("recorded_at", models.DateTimeField(default=shopflow.common.clock.now)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "instrument",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="promises_made",
                        to="instruments.instrument",
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "promises made",
                "ordering": ["pk"],
            },
        ),
    ]
