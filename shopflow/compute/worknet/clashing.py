"""What cannot be together: work on an old part beside work that throws it away, and one of several ways."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

from shopflow.compute.worknet.model import Work


class Clashes:
    """Pairs of operations that contradict each other, with the sentence that says why."""

    def __init__(self, works: Mapping[str, Work], words: Mapping[str, str]) -> None:
        self.works, self.words = works, words
        self.sentences: dict[tuple[str, str], str] = {}
        self.questions: set[tuple[str, str]] = set()
        for first, second in combinations(works.values(), 2):
            sentence = self._between(first, second)
            if sentence:
                pair = (first.code, second.code)
                self.sentences[pair] = sentence
                if first.instead != second.instead or not first.instead:
                    self.questions |= {pair} if first.each or second.each else set()
        self.hard: dict[str, frozenset[str]] = {
            code: frozenset(
                other
                for pair in self.sentences
                if pair not in self.questions and code in pair
                for other in pair
                if other != code
            )
            for code in works
        }

    def pairs(self, job: frozenset[str]) -> list[tuple[str, str, str]]:
        """The pairs in a job that contradict each other outright."""
        return [
            (first, second, sentence)
            for (first, second), sentence in self.sentences.items()
            if first in job and second in job and (first, second) not in self.questions
        ]

    def asked(self, job: frozenset[str]) -> list[tuple[str, str, str]]:
        """The pairs that contradict each other only if both mean the same bridge, panel or note."""
        return [(a, b, self.sentences[a, b]) for a, b in sorted(self.questions) if {a, b} <= job]

    def sentence(self, code: str, other: str) -> str:
        return self.sentences.get((code, other)) or self.sentences.get((other, code), "")

    def instead_of(self, code: str) -> frozenset[str]:
        """What makes this work needless: it renews all that this keeps, covers it, or serves for it."""
        work = self.works[code]
        return frozenset(
            other.code
            for other in self.works.values()
            if other.code != code
            and (
                (work.keeps and work.keeps <= other.renews)
                or code in other.covers
                or code in other.serves_for
            )
        )

    def _between(self, first: Work, second: Work) -> str:
        for old, new in ((first, second), (second, first)):
            lost = sorted(old.keeps & new.renews)
            if lost:
                part = self.words.get(lost[0], f"the old {lost[0]}")
                return f"“{old.name}” is work on {part}, and “{new.name}” throws {part} away."
        if first.instead and first.instead == second.instead:
            return f"“{first.name}” and “{second.name}” are two ways to do the same; choose one."
        return ""
