"""The ground as a grid of posts: height under a point, nearest point of it, first cut of a ray.

The surface is the bilinear patch between four neighbouring posts (cell centres), in the grid's
own row/column space. A second-degree polynomial leads from the frame (x east, y north, metres)
to row and column and another one back; both are fitted and checked where the grid is made.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


class Grid(NamedTuple):
    """Posts with their way into the frame.

    `z_m (rows, cols)` NaN = missing; `to_grid (2, 6)` row and column, `to_frame (2, 6)` x and y:
    coefficients of `[1, p, q, p*p, p*q, q*q]` (see `monomials`), p, q = (x - scale-free) x, y in
    metres, or row, column. `lowest`, `highest`: pyramids, level L holds the least and greatest
    post over blocks of 2**L patches (a block with a missing post has lowest -inf, highest +inf);
    `missing`: the same with True where any post of the block is missing.
    """

    z_m: Array
    to_grid: Array
    to_frame: Array
    lowest: tuple[Array, ...]
    highest: tuple[Array, ...]
    missing: tuple[NDArray[np.bool_], ...]


class Nearest(NamedTuple):
    """`distance_m (n,)` to the known surface (+inf: none known); `missing_m (n,)` level distance
    to the nearest patch with a missing post, or to beyond the grid's edge (0 when over it)."""

    distance_m: Array
    missing_m: Array


class Cut(NamedTuple):
    """Fractions of the ray from its start, +inf where not: `at (n,)` first cut by known ground,
    `unknown_at (n,)` first crossing of a missing patch or of beyond the edge."""

    at: Array
    unknown_at: Array


def monomials(p: Array, q: Array) -> Array:
    """`(..., 6)`: 1, p, q, p², pq, q²."""
    return np.stack([np.ones_like(p), p, q, p * p, p * q, q * q], axis=-1)


def make(z_m: Array, to_grid: Array, to_frame: Array) -> Grid:
    """A grid with its pyramids."""
    raise NotImplementedError


def flat(elevation_m: float, half_width_m: float = 100_000.0) -> Grid:
    """Level ground: one patch, `half_width_m` to each side of the frame's origin."""
    raise NotImplementedError


def sample(grid: Grid, xy_m: Array) -> Array:
    """Bilinear elevation under `xy_m (..., 2)`; NaN where a post is missing or outside."""
    raise NotImplementedError


def nearest(grid: Grid, xyz_m: Array, enough_m: float = np.inf) -> Nearest:
    """Distance from `xyz_m (n, 3)` to the nearest point of the surface, unsigned.

    Exact (1e-3 m) where less than `enough_m`, else any value >= enough_m.
    """
    raise NotImplementedError


def first_cut(grid: Grid, start_m: Array, end_m: Array) -> Cut:
    """Where straight rays `start_m (n, 3)` -> `end_m (n, 3)` first dip below the surface."""
    raise NotImplementedError
