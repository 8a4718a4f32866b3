"""Why a photo was refused, in words for the person who took it."""

from __future__ import annotations


class PhotoRefused(Exception):
    """Nothing of it was kept. Answered with 422."""

    def __init__(self, words: str) -> None:
        super().__init__(words)
        self.words = words
