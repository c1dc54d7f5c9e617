"""How steep the ground is at most near a place, and how far from it one is therefore at least.

Where the ground rises by at most s per metre within a level distance r, a point at the height g
over it is at least `min(r, g / sqrt(1 + s²))` from it (the distance of a point to a cone). Between
two places l apart the ground rises at most `s l / 2` over the straight line that joins it there.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shotplan.kernels.ground.closest import metres_per_cell
from shotplan.kernels.ground.posts import Array, Grid, halved, rows_cols, sample

PIECE_M = 3.0  # of a segment between two places at which the height is taken
MOST_PIECES = 8
SLIP_M = 0.02  # how far the way between frame and grid may lead astray


class Slopes(NamedTuple):
    """`steepest`: a pyramid, level L holds the greatest rise in metres per metre over squares of
    2**L by 2**L patches (+inf where one lacks a post)."""

    grid: Grid
    steepest: tuple[Array, ...]


def slopes(grid: Grid) -> Slopes:
    """The pyramid of a grid."""
    (per_row, per_col), _ = metres_per_cell(grid)
    z = grid.z_m
    along = np.abs(np.diff(z, axis=1)) / per_col
    down = np.abs(np.diff(z, axis=0)) / per_row
    rise = np.hypot(np.maximum(along[:-1], along[1:]), np.maximum(down[:, :-1], down[:, 1:]))
    levels = [np.where(grid.missing[0], np.inf, rise)]
    while levels[-1].size > 1:
        levels.append(np.asarray(halved(levels[-1], 0.0, np.maximum)))
    return Slopes(grid, tuple(levels))


def at_least_m(
    slopes: Slopes, start_m: Array, end_m: Array, enough_m: Array | float = np.inf
) -> Array:
    """A bound `(k,)` below the distance to the surface along segments `(k, 3)`, no more than
    `enough_m`; -inf where it says nothing (below the surface, near missing ground)."""
    level = end_m[:, :2] - start_m[:, :2]
    length = np.sqrt((level * level).sum(axis=1))
    longest = float(np.fmax.reduce(length, initial=0.0))
    pieces = int(np.clip(np.ceil(longest / PIECE_M), 1 if longest > 0.0 else 0, MOST_PIECES))
    gap = np.full(len(start_m), np.inf)
    for share in np.linspace(0.0, 1.0, pieces + 1):
        at = start_m + share * (end_m - start_m) if share else start_m
        gap = np.minimum(gap, at[:, 2] - sample(slopes.grid, at[:, :2]))
    reach = np.minimum(np.where(gap > 0.0, gap, 0.0), np.asarray(enough_m) + SLIP_M)
    steep = _steepest(slopes, 0.5 * (start_m + end_m), 0.5 * length + reach)
    sound = (gap > 0.0) & np.isfinite(steep)
    steep = np.where(sound, steep, 0.0)
    over = gap - 0.5 * steep * length / max(pieces, 1)
    found = np.minimum(over / np.sqrt(1.0 + steep * steep), reach) - SLIP_M
    return np.where(sound & (found > 0.0), found, -np.inf)


def _steepest(slopes: Slopes, middle_m: Array, around_m: Array) -> Array:
    """The greatest rise within squares that cover `around_m (k,)` about places `(k, 2 or 3)`."""
    least, _ = metres_per_cell(slopes.grid)
    row, col = rows_cols(slopes.grid, middle_m[:, 0], middle_m[:, 1])
    good = np.isfinite(row + col + around_m)
    row, col, around = (np.where(good, a, 0.0) for a in (row, col, around_m + SLIP_M))
    top = len(slopes.steepest) - 1
    span = np.maximum(2.0 * around / min(least), 1.0)
    level = np.ceil(np.log2(np.minimum(span, 2.0**top))).astype(np.intp)
    found = np.full(len(row), np.inf)
    for one in np.unique(level[good]):
        here = np.flatnonzero(good & (level == one))
        table, size = slopes.steepest[one], 2.0**one
        ends = [
            np.clip(np.floor((place[here] + side * around[here] / per) / size), 0.0, count - 1.0)
            for place, per, count in zip((row, col), least, table.shape, strict=True)
            for side in (-1.0, 1.0)
        ]
        i0, i1, j0, j1 = (e.astype(np.intp) for e in ends)
        found[here] = np.maximum(
            np.maximum(table[i0, j0], table[i0, j1]), np.maximum(table[i1, j0], table[i1, j1])
        )
    return found
