"""What belongs to the present owner of a piano and not to an earlier one."""

from __future__ import annotations

from django.db.models import Q

from shopflow.instruments.models import Instrument


def of_its_owner(instrument: Instrument) -> Q:
    """Of this instrument, and given to the one who owns it now or to nobody in particular."""
    return Q(instrument=instrument) & (Q(customer=None) | Q(customer=instrument.customer_id))
