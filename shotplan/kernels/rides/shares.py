"""How many rides may break something, and what a count of broken rides proves."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from functools import lru_cache


def binomial_cdf(k: int, n: int, p: float) -> float:
    """Probability of at most `k` of `n` when each has probability `p`."""
    if k >= n:
        return 1.0
    if p <= 0.0:
        return 1.0
    if p >= 1.0:
        return 0.0
    logs = [
        math.lgamma(n + 1)
        - math.lgamma(i + 1)
        - math.lgamma(n - i + 1)
        + i * math.log(p)
        + (n - i) * math.log1p(-p)
        for i in range(k + 1)
    ]
    return min(1.0, math.fsum(math.exp(value) for value in logs))


def upper_bound(broken: int, rides: int, confidence: float = 0.95) -> float:
    """One-sided upper bound of a share after `broken` of `rides` (Clopper and Pearson 1934).

    The greatest p for which `broken` or fewer still has probability 1 - confidence.
    """
    if not 0 <= broken <= rides or rides < 1:
        raise ValueError(f"wanted 0 <= broken <= rides and rides >= 1, got {broken} of {rides}")
    if broken == rides:
        return 1.0
    low, high = broken / rides, 1.0
    for _ in range(60):
        mid = 0.5 * (low + high)
        if binomial_cdf(broken, rides, mid) > 1.0 - confidence:
            low = mid
        else:
            high = mid
    return high


def rides_needed(share: float, broken: int = 0, confidence: float = 0.95) -> int:
    """How many rides with `broken` broken ones prove the share to be below `share`."""
    if not 0.0 < share < 1.0:
        raise ValueError(f"wanted a share between 0 and 1, got {share}")
    enough = max(broken + 1, 2)
    while upper_bound(broken, enough, confidence) > share:
        enough *= 2
    return bisect_left(
        range(enough), -share, broken + 1, key=lambda rides: -upper_bound(broken, rides, confidence)
    )


@lru_cache(maxsize=64)
def proving(rides: int, share: float) -> int:
    """The most broken rides that still prove the share to be at most that; -1 where none do."""
    return bisect_right(range(rides + 1), share, key=lambda broken: upper_bound(broken, rides)) - 1
