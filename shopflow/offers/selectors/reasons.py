"""Why work belongs to a job, in the words of the rules that ask for it."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from shopflow.compute.worknet import Knowledge


def reasons_for(knowledge: Knowledge, codes: Collection[str]) -> Mapping[str, tuple[str, ...]]:
    """By operation's code, the sentences of all rules of this job that it meets."""
    job, found = frozenset(codes), dict[str, dict[str, None]]()
    for rule in knowledge.rules():
        if rule.body <= job:
            for head in rule.heads:
                if head in job:
                    found.setdefault(head, {})[rule.why] = None
    return {code: tuple(words) for code, words in found.items()}
