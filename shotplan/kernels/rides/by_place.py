"""From samples in time to places of the ride: each ride's least margin near each of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]

WITHIN_M = 5.0


@dataclass(frozen=True)
class Metres:
    """Whole metres `at_m (k,)`, one after the other."""

    at_m: Array

    def __len__(self) -> int:
        """How many."""
        return len(self.at_m)

    def reach(self, along_m: Array) -> tuple[Index, Index]:
        """First and last that is within 5 m of a place; the first after the last: none is."""
        low, high = (np.ceil(along_m) - WITHIN_M, np.floor(along_m) + WITHIN_M)
        first, last = ((m - self.at_m[0]).astype(np.intp) for m in (low, high))
        return np.maximum(first, 0), np.minimum(last, len(self) - 1)


@dataclass(frozen=True)
class Stretches:
    """Parts of the ride between `edges_m (k + 1,)`, each with its first edge; what lies before or
    beyond them counts to the nearest."""

    edges_m: Array

    def __len__(self) -> int:
        """How many."""
        return len(self.edges_m) - 1

    def reach(self, along_m: Array) -> tuple[Index, Index]:
        """First and last that has a metre within 5 m of a place."""
        low, high = (
            np.searchsorted(self.edges_m, along_m + side, side="right") - 1
            for side in (-WITHIN_M, WITHIN_M)
        )
        return low.clip(0, len(self) - 1), high.clip(0, len(self) - 1)


def metres(along_m: Array) -> Array:
    """`(k,)` the whole metres a shot covers, from row 0's `along_m (n,)`."""
    low, high = float(along_m[0]), float(along_m[-1])
    return np.arange(np.floor(low), max(np.ceil(high), np.floor(low) + 1.0)) + 0.0


def least_by_place(
    margin: Array,
    along_m: Array,
    places: Metres | Stretches,
    filming: NDArray[np.bool_],
    sound_too: bool = True,
) -> Array:
    """`(r, k)` the least of `margin (r, n)` while the rider is within 5 m of that place.

    A broken sample (below 0) wins over an unknown one (NaN), an unknown one over a sound one;
    +inf where no filmed sample is near. Without `sound_too` places that nothing breaks and nothing
    doubts get the least of all sound samples of their ride, which is quicker.
    """
    sound = margin >= 0.0
    least = np.full((len(margin), len(places)), np.inf)
    wanted = filming
    if not sound_too:
        of_ride = np.where(sound & filming, margin, np.inf).min(axis=1, initial=np.inf)
        least[:] = of_ride[:, None]
        wanted = filming & ~sound
    row, sample = np.nonzero(wanted)
    value = margin[row, sample]
    first, last = places.reach(along_m[row, sample])
    unknown = np.isnan(value)
    doubt = np.zeros(least.shape, dtype=bool)
    for step in range(int((last - first).max(initial=-1)) + 1):
        at = first + step
        known = (at <= last) & ~unknown
        np.minimum.at(least, (row[known], at[known]), value[known])
        near = (at <= last) & unknown
        doubt[row[near], at[near]] = True
    return np.where((least >= 0.0) & doubt, np.nan, least)
