from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("catalogue", "0006_the_state_of_the_piano")]

    operations = [
        migrations.AddField(
            model_name="operation",
            name="state_note",
            field=models.TextField(blank=True, editable=False, verbose_name="what to look at in its state"),
        ),
    ]
