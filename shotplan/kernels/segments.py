"""The least of a distance along straight segments, found by bounds that cannot miss."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def least_along(
    distance: Callable[[Array], Array],
    start_m: Array,
    end_m: Array,
    tolerance_m: float = 0.001,
) -> tuple[Array, Array]:
    """Least of `distance(points (k, 3)) -> (k,)` on segments `start_m (n, 3)` to `end_m (n, 3)`.

    `distance` must change by no more than the way moved (any distance to a fixed set does, signed
    or not). Halves are dropped once their mid value less half their length cannot undercut the
    best found by more than `tolerance_m`. Returns the least `(n,)` and its fraction `(n,)`.
    A zero-length segment costs one evaluation. +inf anywhere is kept as "nothing in reach".
    """
    raise NotImplementedError
