"""What goes home although it is unsafe, in words: for the report, and for the customer who keeps it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.utils import timezone

from shopflow.instruments.models import Instrument, LeftUnsafe
from shopflow.instruments.selectors import CurrentFinding
from shopflow.instruments.selectors.safety import answered, forbids_pitch
from shopflow.offers.frozen import day_in_words


def as_furniture(left: Iterable[CurrentFinding]) -> str:
    """Said where the plate or the frame stays as it is: what may not hold is not brought to pitch."""
    names = [one.name for one in left if forbids_pitch(one)]
    return f"As furniture, not to be tuned. Left as found: {'; '.join(names)}." if names else ""


def unsafe_in_words(instrument: Instrument) -> list[dict[str, Any]]:
    """Each with who answers for it, and what was put in writing."""
    return [
        {"number": one.found.number, "name": one.found.name, **_answer(one.answer)}
        for one in answered(instrument)
        if one.answer is not None
    ]


def _answer(answer: LeftUnsafe) -> dict[str, str]:
    return {
        "reason": answer.reason,
        "by": answer.by.name,
        "on": day_in_words(timezone.localdate(answer.at)),
        "word": answer.word,
        "word_by": answer.word_by,
        "word_on": day_in_words(answer.word_on),
    }
