"""The deeds that change what a shop has."""

from .trade import load_trade

__all__ = ["load_trade"]
