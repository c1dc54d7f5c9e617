"""Asking only every so many samples, without sparing what lies between."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]

HAIR = 1e-9


def every(count: int, step: int) -> Index:
    """Every `step`-th of `count` samples, first and last always."""
    return np.union1d(np.arange(0, count, max(step, 1)), [count - 1])


def worse_beside(index: Index, margin: Array, count: int) -> Index:
    """`(count,)` for each sample which of `index (m,)` to believe: of the one before and the one
    after it (itself, where it was asked) the one with the worse of the margins `(m,)`: broken
    before unknown (NaN) before the lesser."""
    sample = np.arange(count)
    after = np.minimum(np.searchsorted(index, sample), len(index) - 1)
    before = np.where(index[after] == sample, after, np.maximum(after - 1, 0))
    rank = rank_of(margin)
    return np.where(rank[before] <= rank[after], before, after)


def spread(index: Index, margin: Array, pick: Index) -> Array:
    """The margins believed by `pick (count,)`; those borrowed from a neighbour a hair larger, so
    that the least of all is the sample that was asked."""
    return np.where(index[pick] == np.arange(len(pick)), margin[pick], margin[pick] + HAIR)


def rank_of(margin: Array) -> Array:
    """Margins in an order without NaN: unknown just below what is sound."""
    return np.where(np.isnan(margin), -1e-9, margin)
