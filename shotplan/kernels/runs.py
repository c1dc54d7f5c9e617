"""Runs of consecutive samples."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Bools = NDArray[np.bool_]


def short_runs(flags: Bools, at_most: int) -> Bools:
    """Where `flags (r, n)` is True in a run of no more than `at_most` samples."""
    out = np.zeros_like(flags)
    for row, line in enumerate(flags):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(np.int8), [0]])))
        for low, high in zip(edges[::2], edges[1::2], strict=True):
            if high - low <= at_most:
                out[row, low:high] = True
    return out
