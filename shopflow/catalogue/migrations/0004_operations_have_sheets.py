"""Operations that a shop has already, and that are done with a bench sheet at hand, get it."""

from __future__ import annotations

from django.db import migrations

SHEETS = {
    "lifting": (
        "receive",
        "plate-out",
        "assemble",
        "case-on",
        "deliver",
        "plate-in",
        "casters",
    ),
    "strings": (
        "tension-down",
        "shop-tune",
        "aftercare-tune",
        "string-mend",
        "pitch-raise",
        "strings-order",
        "pins-oversize",
        "string-treble",
        "string-bass",
        "chip",
        "string-seat",
        "settle-tune",
    ),
    "action": (
        "regulate-1",
        "regulate-2",
        "action-clean",
        "centres-repin",
        "wippens-renew",
        "springs-renew",
        "hammers-file",
        "shanks-new",
        "hammers-hang",
        "keys-clean",
        "key-leads",
        "keys-rebush",
        "touch-weigh",
        "damper-felts",
        "damper-action",
    ),
    "soundboard": (
        "board-dry",
        "crack-shim",
        "crack-fill",
        "rib-reglue",
        "board-edge",
        "bridge-repin",
        "bridge-recap",
        "bridge-new",
        "bridge-reglue",
        "board-replace",
        "bearing-set",
    ),
    "finishing": (
        "board-finish",
        "finish-test",
        "clean-polish",
        "touch-up",
        "stain-fill",
        "build-lacquer",
        "build-polyester",
        "french-polish",
        "decal",
        "rub-out",
        "plate-refinish",
        "hw-polish",
    ),
    "plating": (
        "hw-inventory",
        "hw-prep",
        "plating-shop",
        "plating-sendout",
    ),
}


def name_the_sheets(apps, schema_editor):
    operations = apps.get_model("catalogue", "Operation").objects
    for sheet, codes in SHEETS.items():
        operations.filter(code__in=codes, sheet="").update(sheet=sheet)


class Migration(migrations.Migration):
    dependencies = [("catalogue", "0003_say_what_conditions_rest_on")]

    operations = [migrations.RunPython(name_the_sheets, migrations.RunPython.noop)]
