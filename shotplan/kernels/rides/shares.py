"""How many rides may break something, and what a count of broken rides proves."""

from __future__ import annotations

import math
from bisect import bisect_left
from functools import lru_cache


def binomial_cdf(k: int, n: int, p: float) -> float:
    """Probability of at most `k` of `n` when each has probability `p`."""
    if k >= n:
        return 1.0
    if p <= 0.0:
        return 1.0
    if p >= 1.0:
        return 0.0
    hit, missed = math.log(p), math.log1p(-p)
    ways = enumerate(_log_ways(k, n))
    return min(1.0, math.fsum(math.exp(w + i * hit + (n - i) * missed) for i, w in ways))


@lru_cache(maxsize=64)
def _log_ways(k: int, n: int) -> tuple[float, ...]:
    """Logarithms of in how many ways 0 to `k` of `n` can be chosen."""
    whole = math.lgamma(n + 1)
    return tuple(whole - math.lgamma(i + 1) - math.lgamma(n - i + 1) for i in range(k + 1))


@lru_cache(maxsize=1024)
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


def proves(broken: int, rides: int, share: float, confidence: float = 0.95) -> bool:
    """Whether `broken` of `rides` prove the share to be at most that: its `upper_bound` is."""
    if broken >= rides:
        return share >= 1.0
    return share > broken / rides and binomial_cdf(broken, rides, share) <= 1.0 - confidence


def over_takes(share: float, takes: int) -> float:
    """The chance that at least one of `takes` rides is one of that share, each by itself."""
    return 1.0 - (1.0 - share) ** takes


def rides_needed(share: float, broken: int = 0, confidence: float = 0.95) -> int:
    """How many rides with `broken` broken ones prove the share to be below `share`."""
    if not 0.0 < share < 1.0:
        raise ValueError(f"wanted a share between 0 and 1, got {share}")
    enough = max(broken + 1, 2)
    while not proves(broken, enough, share, confidence):
        enough *= 2
    return bisect_left(
        range(enough), True, broken + 1, key=lambda rides: proves(broken, rides, share, confidence)
    )


@lru_cache(maxsize=64)
def proving(rides: int, share: float) -> int:
    """The most broken rides that still prove the share to be at most that; -1 where none do."""
    return bisect_left(range(rides + 1), True, key=lambda n: not proves(n, rides, share)) - 1
