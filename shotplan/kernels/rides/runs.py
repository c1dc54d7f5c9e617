"""Runs of consecutive samples."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
from numpy.typing import NDArray

Bools = NDArray[np.bool_]


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
