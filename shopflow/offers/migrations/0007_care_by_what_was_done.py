"""After-care follows the work now: the old standard words leave the reports that are not given yet."""

from __future__ import annotations

from django.db import migrations

CARE = (
    "Keep the air around the piano at 40 to 45 % relative humidity all the year (a tuner’s page that collects"
    " what makers advise): no radiator beside it, no sun on it, no heated floor under it (common practice, no"
    " source). A meter for humidity costs little and tells more than any rule.\n"
    "Leave moving it to people who move pianos, and keep the key of the lid where you find it."
)
TUNINGS = (
    "Three or four tunings in the first year (common practice; a page quoting the makers’ association advises"
    " three for new pianos), then as the room asks for it. Pitch falls between the first visits: new strings"
    " and felts settle, and that is not a fault. A first check of the regulation after 6 to 12 months (common"
    " practice, no source)."
)


def take_out_the_standard_words(apps, schema_editor):
    being_written = apps.get_model("offers", "Handover").objects.filter(handed_over_at=None)
    being_written.filter(care=CARE).update(care="")
    being_written.filter(tunings=TUNINGS).update(tunings="")


class Migration(migrations.Migration):
    dependencies = [("offers", "0006_to_whom_it_was_given")]
    operations = [migrations.RunPython(take_out_the_standard_words, migrations.RunPython.noop)]
