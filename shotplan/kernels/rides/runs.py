"""Runs of consecutive samples, and what is held through those of which nothing is known."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
from numpy.typing import NDArray

Bools = NDArray[np.bool_]
Index = NDArray[np.intp]


def stretches(flags: Bools) -> list[tuple[int, int]]:
    """First and one past the last of every run of True in `flags (n,)`."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], flags.astype(np.int8), [0]])))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def short_runs(flags: Bools, at_most: int) -> Bools:
    """Where `flags (r, n)` is True in a run of no more than `at_most` samples."""
    out = np.zeros_like(flags)
    for row, line in enumerate(flags):
        for low, high in stretches(line):
            if high - low <= at_most:
                out[row, low:high] = True
    return out


def runs(values: NDArray[Any]) -> list[tuple[int, int]]:
    """First index and one past the last of every run of equal `values (n,)`, in order."""
    if not len(values):
        return []
    cuts = np.flatnonzero(values[1:] != values[:-1]) + 1
    edges = [0, *cuts.tolist(), len(values)]
    return list(itertools.pairwise(edges))


def last_good(good: Bools) -> Index:
    """Index of the last True at or before each place of `good (..., n)`; -1 before the first."""
    at = np.where(good, np.arange(good.shape[-1]), -1)
    return np.asarray(np.maximum.accumulate(at, axis=-1), dtype=np.intp)


def held(values: NDArray[np.float64], good: Bools) -> NDArray[np.float64]:
    """`values (..., n)` where `good`, else the last good one, else the first that comes; the very
    first of all where none is good."""
    at = last_good(good)
    first = np.argmax(good, axis=-1, keepdims=True)
    return np.take_along_axis(values, np.where(at < 0, first, at), axis=-1)
