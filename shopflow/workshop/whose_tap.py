"""Whose tap it is, for the pages of the workshop; it is told in people, below every app that takes taps."""

from __future__ import annotations

from shopflow.people.whose_tap import UnknownHand, hand_of, mark_for

__all__ = ["UnknownHand", "hand_of", "mark_for"]
