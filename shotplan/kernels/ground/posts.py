"""Posts of the ground, their way into the frame, and the height under a point.

The surface is the bilinear patch between four neighbouring posts (cell centres), in the grid's
own row/column space. A second-degree polynomial leads from the frame (x east, y north, metres)
to row and column and another one back; both are fitted and checked where the grid is made.

Everything here is elementwise (no matrix products): a value never depends, not in its last bit,
on what stands beside it in an array.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Bools = NDArray[np.bool_]

BLOCK = 8192  # points at a time: few enough that memory is not fetched anew for every step
EDGE_CELLS = 1e-9  # a point this far beyond the outermost posts still stands on them


class Grid(NamedTuple):
    """Posts with their way into the frame.

    `z_m (rows, cols)` NaN = missing; `to_grid (2, 6)` row and column, `to_frame (2, 6)` x and y:
    coefficients of `[1, p, q, p*p, p*q, q*q]` (see `monomials`), p, q = x, y in metres, or row,
    column. `lowest`, `highest`: pyramids, level L holds the least and greatest post over the
    known patches in squares of 2**L by 2**L patches (+inf and -inf where a square has none);
    `missing`: the same with True where any patch of the square lacks a post. A patch that lacks
    one post is not part of the surface.
    """

    z_m: Array
    to_grid: Array
    to_frame: Array
    lowest: tuple[Array, ...]
    highest: tuple[Array, ...]
    missing: tuple[Bools, ...]


def monomials(p: Array, q: Array) -> Array:
    """`(..., 6)`: 1, p, q, p², pq, q²."""
    return np.stack([np.ones_like(p), p, q, p * p, p * q, q * q], axis=-1)


def make(z_m: Array, to_grid: Array, to_frame: Array) -> Grid:
    """A grid with its pyramids; `z_m (rows, cols)` at least 2 by 2, not finite = missing."""
    if z_m.ndim != 2 or min(z_m.shape) < 2:
        raise ValueError(f"z_m: wanted at least 2 rows and 2 columns of posts, got {z_m.shape}")
    z = np.ascontiguousarray(np.where(np.isfinite(z_m), z_m, np.nan), dtype=np.float64)
    corners = (z[:-1, :-1], z[:-1, 1:], z[1:, :-1], z[1:, 1:])
    missing = np.isnan(corners[0] + corners[1] + corners[2] + corners[3])
    least = np.minimum(np.minimum(*corners[:2]), np.minimum(*corners[2:]))
    most = np.maximum(np.maximum(*corners[:2]), np.maximum(*corners[2:]))
    lowest = [np.where(missing, np.inf, least)]
    highest = [np.where(missing, -np.inf, most)]
    gaps = [missing]
    while gaps[-1].size > 1:
        lowest.append(halved(lowest[-1], np.inf, np.minimum))
        highest.append(halved(highest[-1], -np.inf, np.maximum))
        gaps.append(halved(gaps[-1], False, np.logical_or))
    return Grid(z, to_grid, to_frame, tuple(lowest), tuple(highest), tuple(gaps))


def halved(level: NDArray[Any], pad: float, join: np.ufunc) -> NDArray[Any]:
    """The next level of a pyramid: squares of two by two joined."""
    rows, cols = level.shape
    even = np.pad(level, ((0, rows % 2), (0, cols % 2)), constant_values=pad)
    return np.asarray(
        join(join(even[::2, ::2], even[1::2, ::2]), join(even[::2, 1::2], even[1::2, 1::2]))
    )


def flat(elevation_m: float, half_width_m: float = 100_000.0) -> Grid:
    """Level ground: one patch, `half_width_m` to each side of the frame's origin."""
    side = 2.0 * half_width_m
    to_grid = np.array([[0.5, 0.0, -1.0 / side, 0, 0, 0], [0.5, 1.0 / side, 0.0, 0, 0, 0]])
    to_frame = np.array([[-half_width_m, 0.0, side, 0, 0, 0], [half_width_m, -side, 0.0, 0, 0, 0]])
    return make(np.full((2, 2), float(elevation_m)), to_grid, to_frame)


def sample(grid: Grid, xy_m: Array) -> Array:
    """Bilinear elevation under `xy_m (..., 2)`; NaN where a post is missing or outside."""
    x, y = (xy_m[..., k].reshape(-1) for k in (0, 1))
    found = np.empty(x.size)
    for start in range(0, x.size, BLOCK):
        part = slice(start, start + BLOCK)
        found[part] = level_at(grid, *rows_cols(grid, x[part], y[part]))
    return found.reshape(xy_m.shape[:-1])


def rows_cols(grid: Grid, x_m: Array, y_m: Array) -> tuple[Array, Array]:
    """Row and column, with fractions, of places in the frame."""
    return _quadratic(grid.to_grid[0], x_m, y_m), _quadratic(grid.to_grid[1], x_m, y_m)


def frame_xy(grid: Grid, row: Array, col: Array) -> tuple[Array, Array]:
    """x and y in the frame of rows and columns, with fractions."""
    return _quadratic(grid.to_frame[0], row, col), _quadratic(grid.to_frame[1], row, col)


def _quadratic(c: Array, p: Array, q: Array) -> Array:
    return np.asarray(c[0] + p * (c[1] + p * c[3] + q * c[4]) + q * (c[2] + q * c[5]))


class Steps(NamedTuple):
    """Metres east and north that one row and one column make at a place."""

    row_x: Array
    row_y: Array
    col_x: Array
    col_y: Array


def steps(grid: Grid, row: Array, col: Array) -> Steps:
    """The Jacobian of `frame_xy`. At the middle between two places it gives, times their offset
    in rows and columns, exactly their offset in metres (the polynomial is of second degree)."""
    (_, a, b, aa, ab, bb), (_, c, d, cc, cd, dd) = grid.to_frame
    return Steps(
        a + 2.0 * aa * row + ab * col,
        c + 2.0 * cc * row + cd * col,
        b + ab * row + 2.0 * bb * col,
        d + cd * row + 2.0 * dd * col,
    )


def patch_at(grid: Grid, row: Array, col: Array) -> tuple[Index, Index, Bools]:
    """Indices of the patch over which a place lies, and whether it lies over any (else 0, 0)."""
    rows, cols = grid.z_m.shape
    inside = (row >= -EDGE_CELLS) & (row <= rows - 1 + EDGE_CELLS)
    inside &= (col >= -EDGE_CELLS) & (col <= cols - 1 + EDGE_CELLS)
    i, j = (
        np.minimum(np.maximum(np.where(inside, place, 0.0), 0.0), most).astype(np.intp)
        for place, most in ((row, rows - 2.0), (col, cols - 2.0))
    )
    return i, j, inside


def corners(grid: Grid, i: Index, j: Index) -> tuple[Array, Array, Array, Array]:
    """Elevations of a patch's posts: (i, j), (i, j+1), (i+1, j), (i+1, j+1)."""
    z, width = grid.z_m.reshape(-1), grid.z_m.shape[1]
    at = i * width + j
    return z[at], z[at + 1], z[at + width], z[at + width + 1]


def level_at(grid: Grid, row: Array, col: Array) -> Array:
    """Bilinear elevation at rows and columns with fractions; NaN as for `sample`."""
    i, j, inside = patch_at(grid, row, col)
    v, u = np.where(inside, row, 0.0) - i, np.where(inside, col, 0.0) - j
    z = bilinear(corners(grid, i, j), np.asarray(u), np.asarray(v))
    return np.where(inside, z, np.nan)


def bilinear(posts_m: tuple[Array, Array, Array, Array], u: Array, v: Array) -> Array:
    """Elevation `u` columns and `v` rows into a patch with those `corners`."""
    z00, z01, z10, z11 = posts_m
    near = z00 + u * (z01 - z00)
    far = z10 + u * (z11 - z10)
    return np.asarray(near + v * (far - near))
