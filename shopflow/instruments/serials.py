"""Serial numbers as stamped, painted and copied by hand: the same one in many spellings."""

from __future__ import annotations

import unicodedata

from shopflow.instruments.models import Instrument

_TAKEN_FOR = str.maketrans({"O": "0", "I": "1"})


def plain(serial: str) -> str:
    """A serial without what people write differently: case, spaces and other marks, O for 0, I for 1.

    >>> plain(" no. 4O I17-a ") == plain("NO401 17A")
    True
    """
    written = unicodedata.normalize("NFKC", serial).upper()
    kept = "".join(letter for letter in written if letter.isalnum())
    return kept.translate(_TAKEN_FOR)


def lookalikes(serial: str, *, besides: int | None = None) -> list[Instrument]:
    """The instruments whose serial is the same but for its spelling; nothing looks like no serial."""
    wanted = plain(serial)
    if not wanted:
        return []
    known = Instrument.objects.exclude(serial="").values_list("pk", "serial")
    alike = [pk for pk, other in known if pk != besides and plain(other) == wanted]
    return list(Instrument.objects.filter(pk__in=alike))
