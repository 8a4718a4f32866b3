"""Questions about instruments."""

from .find import instrument_or_404
from .findings import CurrentFinding, by_consequence, current_findings
from .words import known_words

__all__ = ["CurrentFinding", "by_consequence", "current_findings", "instrument_or_404", "known_words"]
