"""What a survey learns of the instrument itself: alterations by earlier owners, and fragile parts."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction

from shopflow.common import pulse
from shopflow.people import access, edits
from shopflow.people.access import Deed
from shopflow.people.models import Person

from ...models import Instrument
from .drafts import let_go

KNOWN = ("alterations", "fragile")


@transaction.atomic
def write_known(
    *, instrument: Instrument, facts: Mapping[str, str], seen: str, by: Person, draft: str = ""
) -> Instrument:
    """Write them into the instrument, if nobody else changed them since they were seen."""
    access.require(by, Deed.SURVEY)
    kept = Instrument.objects.select_for_update().get(pk=instrument.pk)
    let_go(kept.pk, draft, by)
    wanted = {name: facts[name] for name in KNOWN}
    edits.refuse_stale(now=known_of(kept), wanted=wanted, seen=seen)
    if wanted == known_of(kept):
        return kept
    for name, words in wanted.items():
        setattr(kept, name, words)
    kept.version += 1
    kept.full_clean()
    kept.save(update_fields=[*KNOWN, "version"])
    # Fragile parts are a warning on Floor and Bench.
    pulse.bump()
    return kept


def known_of(instrument: Instrument) -> dict[str, str]:
    return {name: getattr(instrument, name) for name in KNOWN}
