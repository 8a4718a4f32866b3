"""Which photos belong together, and what lies on them."""

from .pairs import Pair, pairs_among

__all__ = ["Pair", "pairs_among"]
