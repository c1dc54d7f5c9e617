"""How many rides may break something, and what a count of broken rides proves."""

from __future__ import annotations

import math


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
    low, high = broken, max(broken + 1, 2)
    while upper_bound(broken, high, confidence) > share:
        low, high = high, high * 2
    while high - low > 1:
        mid = (low + high) // 2
        if upper_bound(broken, mid, confidence) > share:
            low = mid
        else:
            high = mid
    return high
