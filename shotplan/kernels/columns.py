"""Upright columns (crowns, trunks, poles): distance to the nearest, first cut of a ray."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]


class Columns(NamedTuple):
    """`xy_m (m, 2)`, `radius_m (m,)`, `bottom_m (m,)` (may be -inf), `top_m (m,)` (may be +inf)."""

    xy_m: Array
    radius_m: Array
    bottom_m: Array
    top_m: Array


class ColumnIndex(NamedTuple):
    """Columns sorted into a cell grid; made once per site by `index`."""

    columns: Columns


class Near(NamedTuple):
    """`distance_m (n,)` 3-D, 0 inside, +inf none within reach; `which (n,)` index or -1."""

    distance_m: Array
    which: Index


def index(columns: Columns) -> ColumnIndex:
    """Prepare columns for `nearest`."""
    raise NotImplementedError


def nearest(index: ColumnIndex, xyz_m: Array, enough_m: float = 200.0) -> Near:
    """Nearest column to each of `xyz_m (n, 3)`; exact below `enough_m`, +inf beyond it."""
    raise NotImplementedError


def first_cut(columns: Columns, start_m: Array, end_m: Array) -> tuple[Array, Index]:
    """Fraction `(n,)` at which rays `(n, 3)` -> `(n, 3)` first enter a column (0 when they start
    inside one, +inf never), and which `(n,)` (-1 none)."""
    raise NotImplementedError
