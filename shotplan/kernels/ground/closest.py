"""How near the ground is: distance from points to the surface, and to where it is not known.

`_leaves` walks down the pyramids with pairs of a point and a square of patches, and drops every
pair whose lower bound exceeds the best upper bound of its point. For the single patches that are
left, `patches.settle` finds the distance.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shotplan.kernels.ground.patches import flattened, pieces, settle
from shotplan.kernels.ground.posts import (
    Array,
    Grid,
    Index,
    corners,
    frame_xy,
    level_at,
    patch_at,
    rows_cols,
    steps,
)

BLOCK = 4096  # points at a time: some 100,000 pairs of point and square
PAIRS = 100_000  # of point and patch at a time, where rough ground leaves many
SURPLUS_M = 1.0  # missing ground this much farther than the surface is of no interest
PLAN_SLACK = 1e-3  # how much steps may differ inside a grid from those at its corners


class Nearest(NamedTuple):
    """`distance_m (n,)` to the known surface (+inf: none known); `missing_m (n,)` level distance
    to the nearest patch with a missing post, or to beyond the grid's edge (0 when over it); where
    that is more than `SURPLUS_M` farther than the surface, any value between the two."""

    distance_m: Array
    missing_m: Array


def nearest(
    grid: Grid, xyz_m: Array, enough_m: float = np.inf, missing_too: bool = True
) -> Nearest:
    """Distance from `xyz_m (n, 3)` to the nearest point of the surface, unsigned.

    Exact (1e-3 m) where less than `enough_m`, else `enough_m`. A point that is not finite is
    nowhere: no surface known, missing 0. Without `missing_too` nobody asks what is missing (0).
    """
    count = len(xyz_m)
    distance, missing = np.full(count, np.inf), np.zeros(count)
    finite = np.flatnonzero(np.isfinite(xyz_m).all(axis=1))
    for first in range(0, len(finite), BLOCK):
        block = finite[first : first + BLOCK]
        spot = _spots(grid, xyz_m[block])
        distance[block] = _to_surface(grid, spot, enough_m)
        if missing_too:
            missing[block] = _to_missing(grid, spot, distance[block])
    return Nearest(distance, missing)


def feet_m(grid: Grid, xyz_m: Array) -> Array:
    """Where `(n, 2)` in the frame the point of the surface lies that is nearest to `xyz_m (n, 3)`
    (straight below where none is known)."""
    found = np.array(xyz_m[:, :2])
    finite = np.flatnonzero(np.isfinite(xyz_m).all(axis=1))
    for first in range(0, len(finite), BLOCK):
        block = finite[first : first + BLOCK]
        way = np.zeros((len(block), 2))
        _to_surface(grid, _spots(grid, xyz_m[block]), np.inf, way)
        found[block] += way
    return found


class _Spots(NamedTuple):
    """Points `(n,)`: in the frame, in rows and columns; `slip_m` how far the way there and back
    leads astray; least and greatest metres per row and per column anywhere in the grid."""

    x: Array
    y: Array
    z: Array
    row: Array
    col: Array
    slip_m: Array
    least_m: tuple[float, float]
    most_m: tuple[float, float]


def missing_m(grid: Grid, xyz_m: Array, enough_m: Array) -> Array:
    """Level distance from finite `xyz_m (n, 3)` to missing ground, as in `Nearest`; exact below
    `enough_m (n,)`, at least that elsewhere."""
    found = np.empty(len(xyz_m))
    for first in range(0, len(xyz_m), BLOCK):
        block = slice(first, first + BLOCK)
        found[block] = _to_missing(grid, _spots(grid, xyz_m[block]), enough_m[block])
    return found


def metres_per_cell(grid: Grid) -> tuple[tuple[float, float], tuple[float, float]]:
    """Least and greatest metres per row and per column anywhere in the grid; a way of so many rows
    and columns is at least (at most) as long as if they stood upright on each other with those."""
    last_row, last_col = np.array(grid.z_m.shape, dtype=np.float64) - 1.0
    at = steps(grid, np.array([0, 0, last_row, last_row]), np.array([0, last_col, 0, last_col]))
    per_row = np.sqrt(at.row_x**2 + at.row_y**2)
    per_col = np.sqrt(at.col_x**2 + at.col_y**2)
    skew = np.abs((at.row_x * at.col_x + at.row_y * at.col_y) / (per_row * per_col)).max()
    low, high = np.sqrt(1.0 - skew) * (1.0 - PLAN_SLACK), np.sqrt(1.0 + skew) * (1.0 + PLAN_SLACK)
    least = (float(low * per_row.min()), float(low * per_col.min()))
    return least, (float(high * per_row.max()), float(high * per_col.max()))


def _spots(grid: Grid, xyz_m: Array) -> _Spots:
    x, y, z = np.ascontiguousarray(xyz_m.T)
    row, col = rows_cols(grid, x, y)
    back_x, back_y = frame_xy(grid, row, col)
    slip = np.abs(back_x - x) + np.abs(back_y - y)
    return _Spots(x, y, z, row, col, slip, *metres_per_cell(grid))


def _to_surface(grid: Grid, spot: _Spots, enough_m: float, foot_m: Array | None = None) -> Array:
    if not np.isfinite(grid.lowest[-1]).any():
        return np.full(len(spot.x), np.inf)
    reach = np.minimum(_first_guess(grid, spot), enough_m)
    point, i, j, reach = _leaves(grid, spot, reach, over_missing=False)
    for first in range(0, len(point), PAIRS):
        some = slice(first, first + PAIRS)
        settle(_seen(grid, spot, point[some], i[some], j[some]), point[some], reach, foot_m)
    return reach


def _to_missing(grid: Grid, spot: _Spots, distance_m: Array) -> Array:
    i, j, inside = patch_at(grid, spot.row, spot.col)
    over = inside & ~grid.missing[0][i, j]
    edge = np.where(over, _to_edge(grid, spot), 0.0)
    if not grid.missing[-1].any():
        return edge
    reach = np.minimum(edge, distance_m + SURPLUS_M)
    point, i, j, reach = _leaves(grid, spot, reach, over_missing=True)
    settle(flattened(_seen(grid, spot, point, i, j)), point, reach)
    return reach


def _to_edge(grid: Grid, spot: _Spots) -> Array:
    """Level distance from points inside to the nearest of the outermost lines of posts."""
    found = np.full(len(spot.x), np.inf)
    rows, cols = grid.z_m.shape
    for line in (0.0, rows - 1.0):
        at = steps(grid, 0.5 * (spot.row + line), spot.col)
        area = np.abs(at.row_x * at.col_y - at.row_y * at.col_x)
        away = np.abs(spot.row - line) * area / np.sqrt(at.col_x**2 + at.col_y**2)
        found = np.minimum(found, away)
    for line in (0.0, cols - 1.0):
        at = steps(grid, spot.row, 0.5 * (spot.col + line))
        area = np.abs(at.row_x * at.col_y - at.row_y * at.col_x)
        away = np.abs(spot.col - line) * area / np.sqrt(at.row_x**2 + at.row_y**2)
        found = np.minimum(found, away)
    return found


def _seen(grid: Grid, spot: _Spots, point: Index, i: Index, j: Index) -> Array:
    from_m = np.stack([spot.x[point], spot.y[point], spot.z[point]])
    return pieces(grid, from_m, spot.row[point], spot.col[point], i, j)


def _first_guess(grid: Grid, spot: _Spots) -> Array:
    """An upper bound from known ground: straight down, then where the slope there leads to."""
    found = np.full(len(spot.x), np.inf)
    row, col = spot.row, spot.col
    for _ in range(3):
        i, j, _ = patch_at(grid, row, col)
        z = level_at(grid, row, col)
        x, y = frame_xy(grid, row, col)
        away = np.sqrt((x - spot.x) ** 2 + (y - spot.y) ** 2 + (z - spot.z) ** 2)
        found = np.fmin(found, away)
        z00, z01, z10, z11 = corners(grid, i, j)
        per_row = 0.5 * (z10 + z11 - z00 - z01) / spot.least_m[0]
        per_col = 0.5 * (z01 + z11 - z00 - z10) / spot.least_m[1]
        above = z - per_row * (row - spot.row) * spot.least_m[0]
        above = above - per_col * (col - spot.col) * spot.least_m[1] - spot.z
        share = -above / (1.0 + per_row**2 + per_col**2)
        row = spot.row + share * per_row / spot.least_m[0]
        col = spot.col + share * per_col / spot.least_m[1]
    return found


def _leaves(
    grid: Grid, spot: _Spots, reach: Array, over_missing: bool
) -> tuple[Index, Index, Index, Array]:
    """Patches (point, i, j) that may hold a point of the surface (or, in plan, of what is
    missing) nearer than `reach (n,)`, and `reach` with the upper bounds found on the way."""
    top = len(grid.missing) - 1
    reach = reach.copy()
    margin = reach + spot.slip_m
    span = np.maximum(2.0 * margin / min(spot.least_m), 1.0)
    start = np.full(len(span), -1, dtype=np.intp)  # a point nobody knows begins nowhere
    known = ~np.isnan(span)
    start[known] = np.ceil(np.log2(np.minimum(span[known], 2.0**top))).astype(np.intp)
    point = i = j = np.empty(0, dtype=np.intp)
    for level in range(int(start.max(initial=0)), -1, -1):
        point = np.concatenate([point] * 4)
        i, j = 2 * i, 2 * j
        i, j = np.concatenate([i, i, i + 1, i + 1]), np.concatenate([j, j + 1, j, j + 1])
        new = np.flatnonzero(start == level)
        if len(new):
            first = _first_squares(grid, spot, new, margin, level)
            point, i, j = map(np.concatenate, zip((point, i, j), first, strict=True))
        rows, cols = grid.missing[level].shape
        keep = (i < rows) & (j < cols)
        point, i, j = point[keep], i[keep], j[keep]
        near, far = _bounds(grid, spot, level, point, i, j, over_missing)
        np.minimum.at(reach, point, far)
        keep = near < reach[point]
        point, i, j = point[keep], i[keep], j[keep]
    return point, i, j, reach


def _first_squares(
    grid: Grid, spot: _Spots, point: Index, margin: Array, level: int
) -> tuple[Index, Index, Index]:
    """The up to 2 by 2 squares of a level that cover everything within `margin` of the points."""
    ends = []
    for place, per, count in zip(
        (spot.row, spot.col), spot.least_m, grid.missing[level].shape, strict=True
    ):
        size = 2.0**level
        here, way = place[point], margin[point] / per
        low, high = (
            np.minimum(np.maximum(np.floor(end / size), 0.0), count - 1.0).astype(np.intp)
            for end in (here - way, here + way)
        )
        ends.append((low, high))
    (i0, i1), (j0, j1) = ends
    two_i, two_j = i1 > i0, j1 > j0
    both = two_i & two_j
    return (
        np.concatenate([point, point[two_i], point[two_j], point[both]]),
        np.concatenate([i0, i1[two_i], i0[two_j], i1[both]]),
        np.concatenate([j0, j0[two_i], j1[two_j], j1[both]]),
    )


def _bounds(
    grid: Grid, spot: _Spots, level: int, point: Index, i: Index, j: Index, over_missing: bool
) -> tuple[Array, Array]:
    """No place wanted in a square is nearer than the first, one at least is within the second."""
    slip, size = spot.slip_m[point], 2.0**level
    near, far = np.zeros(len(point)), np.zeros(len(point))
    for place, per, most, count, at in zip(
        (spot.row, spot.col), spot.least_m, spot.most_m, grid.z_m.shape, (i, j), strict=True
    ):
        here = place[point]
        before = at * size - here
        beyond = here - np.minimum((at + 1) * size, count - 1.0)
        near += np.maximum(np.maximum(before, beyond) * per - slip, 0.0) ** 2
        far += (np.maximum(-before, -beyond) * most + slip) ** 2
    if over_missing:
        wanted = grid.missing[level][i, j]
        return np.where(wanted, np.sqrt(near), np.inf), np.where(wanted, np.sqrt(far), np.inf)
    under = grid.lowest[level][i, j] - spot.z[point]
    over = spot.z[point] - grid.highest[level][i, j]
    near += np.maximum(np.maximum(under, over), 0.0) ** 2
    far += np.maximum(np.abs(under), np.abs(over)) ** 2
    return np.sqrt(near), np.sqrt(far)
