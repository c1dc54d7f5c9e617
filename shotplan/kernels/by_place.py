"""From samples in time to metres of the ride: each ride's least margin near each metre."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

WITHIN_M = 5.0


def metres(along_m: Array) -> Array:
    """`(k,)` the whole metres a shot covers, from row 0's `along_m (n,)`."""
    low, high = float(along_m[0]), float(along_m[-1])
    return np.arange(np.floor(low), max(np.ceil(high), np.floor(low) + 1.0)) + 0.0


def least_by_place(
    margin: Array, along_m: Array, metres_m: Array, filming: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """`(r, k)` the least of `margin (r, n)` while the rider is within 5 m of that metre.

    A broken sample (below 0) wins over an unknown one (NaN), an unknown one over a sound one;
    +inf where no filmed sample is near. `along_m (r, n)` never decreases.
    """
    rides = margin.shape[0]
    out = np.full((rides, len(metres_m)), np.inf, dtype=np.float32)
    for row in range(rides):
        on = filming[row]
        value, where = margin[row][on], along_m[row][on]
        if not len(value):
            continue
        low = np.searchsorted(where, metres_m - WITHIN_M, side="left")
        high = np.searchsorted(where, metres_m + WITHIN_M, side="right")
        known = np.where(np.isnan(value), np.inf, value)
        least = _range_least(known, low, high)
        doubt = _range_least(np.where(np.isnan(value), 0.0, np.inf), low, high) == 0.0
        out[row] = np.where((least >= 0.0) & doubt, np.nan, least)
    return out


def _range_least(value: Array, low: NDArray[np.intp], high: NDArray[np.intp]) -> Array:
    """Least of `value[low:high]` per pair, by a sparse table; +inf for an empty range."""
    table = [value]
    while 2 ** len(table) <= len(value):
        half = 2 ** (len(table) - 1)
        table.append(np.minimum(table[-1][:-half], table[-1][half:]))
    length = high - low
    result = np.full(len(low), np.inf)
    for level, row in enumerate(table):
        use = (length >= 2**level) & (length < 2 ** (level + 1))
        if use.any():
            result[use] = np.minimum(row[low[use]], row[high[use] - 2**level])
    return result
