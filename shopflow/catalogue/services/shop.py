"""The shop's own data."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from shopflow.catalogue.models import Shop, Units
from shopflow.common import pulse
from shopflow.people.models import Person

from .version import setting_up


@transaction.atomic
def change_shop(
    *,
    name: str,
    town: str,
    address: str,
    time_zone: str,
    hands_on_share: Decimal,
    report_readers: str,
    by: Person,
    units: str = Units.METRIC,
) -> Shop:
    """Keep the shop's name, place, clock, units, hands-on share and the readers of its weekly report."""
    setting_up(by)
    facts = {
        "name": name,
        "town": town,
        "address": address,
        "time_zone": time_zone,
        "hands_on_share": hands_on_share,
        "report_readers": report_readers,
        "units": units,
    }
    kept, _ = Shop.objects.update_or_create(pk=1, defaults=facts)
    pulse.bump()
    return kept
