"""How much of a spread things of one group have in common."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import fsum

from shopflow.compute.guards import number

PRIOR_SHARE, PRIOR_GROUPS = 0.5, 10.0
MOST_SHARED = 0.95


def shared_share(
    groups: Iterable[Sequence[float]], *, prior: float = PRIOR_SHARE, prior_groups: float = PRIOR_GROUPS
) -> float:
    """Give the share, 0 to 1, of the variance of single figures that lies between groups and not within them.

    For example how much of the spread of hours is the instrument's (one is bad throughout, another good) and
    how much each task's own. Parameters: `groups` of figures, say logarithms of spent ÷ estimated hours;
    groups of one figure tell nothing and are left out. The estimate is drawn towards `prior`, which counts as
    much as `prior_groups` groups.
    Source: intraclass correlation of the one-way random effects model by analysis of variance, for groups of
    unequal size (S. R. Searle, G. Casella, C. E. McCulloch, Variance Components (1992), from memory);
    the prior is our own.

    >>> round(shared_share([[1, 1.1], [2, 2.1], [3, 3.1]], prior_groups=0), 2)
    0.95
    >>> shared_share([])
    0.5
    """
    number("prior", prior, at_least=0, at_most=1)
    number("prior_groups", prior_groups, at_least=0, at_most=10_000)
    told = [[number("groups", one) for one in group] for group in groups]
    told = [group for group in told if len(group) > 1]
    if len(told) < 2:
        return prior
    between = max(0.0, min(MOST_SHARED, _intraclass(told)))
    return (between * len(told) + prior * prior_groups) / (len(told) + prior_groups)


def _intraclass(groups: Sequence[Sequence[float]]) -> float:
    count = sum(map(len, groups))
    mean = fsum(map(fsum, groups)) / count
    means = [fsum(group) / len(group) for group in groups]
    within = fsum((one - own) ** 2 for group, own in zip(groups, means, strict=True) for one in group)
    between = fsum(len(group) * (own - mean) ** 2 for group, own in zip(groups, means, strict=True))
    within, between = within / (count - len(groups)), between / (len(groups) - 1)
    size = (count - sum(len(group) ** 2 for group in groups) / count) / (len(groups) - 1)
    shared = (between - within) / size
    return shared / (shared + within) if shared + within > 0 else 0.0
