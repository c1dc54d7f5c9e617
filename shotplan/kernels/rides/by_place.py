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
    margin: Array,
    along_m: Array,
    metres_m: Array,
    filming: NDArray[np.bool_],
    sound_too: bool = True,
) -> NDArray[np.float32]:
    """`(r, k)` the least of `margin (r, n)` while the rider is within 5 m of that metre.

    A broken sample (below 0) wins over an unknown one (NaN), an unknown one over a sound one;
    +inf where no filmed sample is near. `metres_m (k,)` whole ones, one after the other. Without
    `sound_too` metres that nothing breaks and nothing doubts get the least of all sound samples of
    their ride, which is quicker.
    """
    rides, count = margin.shape[0], len(metres_m)
    sound = margin >= 0.0
    least = np.full((rides, count), np.inf)
    wanted = filming
    if not sound_too:
        of_ride = np.where(sound & filming, margin, np.inf).min(axis=1, initial=np.inf)
        least[:] = of_ride[:, None]
        wanted = filming & ~sound
    row, sample = np.nonzero(wanted)
    value, where = margin[row, sample], along_m[row, sample]
    unknown = np.isnan(value)
    doubt = np.zeros((rides, count), dtype=bool)
    nearest = np.floor(where)
    for step in range(-int(WITHIN_M), int(WITHIN_M) + 2):
        metre = nearest + step
        at = (metre - metres_m[0]).astype(np.intp)
        near = (metre - WITHIN_M <= where) & (where <= metre + WITHIN_M) & (at >= 0) & (at < count)
        known = near & ~unknown
        np.minimum.at(least, (row[known], at[known]), value[known])
        near &= unknown
        doubt[row[near], at[near]] = True
    return np.where((least >= 0.0) & doubt, np.nan, least).astype(np.float32)
