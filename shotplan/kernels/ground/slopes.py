"""How steep the ground is at most near a place, and how far from it one is therefore at least.

Where the ground rises by at most s per metre within a level distance r, a point at the height g
over it is at least `min(r, g / sqrt(1 + s²))` from it (the distance of a point to a cone). Between
two places l apart the ground rises at most `s l / 2` over the straight line that joins it there.
"""

from __future__ import annotations

import itertools
from typing import NamedTuple

import numpy as np

from shotplan.kernels.ground.closest import metres_per_cell
from shotplan.kernels.ground.posts import (
    Array,
    Grid,
    corners,
    frame_xy,
    halved,
    patch_at,
    rows_cols,
    sample,
    steps,
)

PIECE_M = 3.0  # of a segment between two places at which the height is taken
MOST_PIECES = 8
SLIP_M = 0.02  # how far the way between frame and grid may lead astray
RING = 24  # places all round at which the rim of a disc is asked how steep it is
BLOCK = 4096  # places at a time, so that they stay in the cache
KEY = 2.0**26  # more than there are columns: row and column as one number
SIDE = 0.25  # cells to either side of a line of posts, to tell the patches there apart


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


def steepest_within(grid: Grid, xy_m: Array, radius_m: float) -> Array:
    """The greatest rise in metres per metre of the known surface within a level `radius_m` (about
    a cell) of places `(k, 2)`; NaN where nothing is known there.

    On a patch the steepness has no peak inside, so what is greatest in a disc is at a post or on
    the rim: asked are all posts, all places where the rim leaves a patch, and `RING` beside.
    """
    found = np.empty(len(xy_m))
    for first in range(0, len(xy_m), BLOCK):
        block = slice(first, first + BLOCK)
        found[block] = _steepest_in_discs(grid, xy_m[block], radius_m)
    return found


def _steepest_in_discs(grid: Grid, xy_m: Array, radius_m: float) -> Array:
    row, col = _places(grid, xy_m)
    turn = np.arange(RING) * (2.0 * np.pi / RING)
    rim = xy_m[:, None] + radius_m * np.stack([np.sin(turn), np.cos(turn)], axis=-1)
    least, _ = metres_per_cell(grid)
    near_row, near_col = np.floor(row + 0.5), np.floor(col + 0.5)
    downs, alongs = (np.arange(-int(radius_m / m) - 1, int(radius_m / m) + 2.0) for m in least)
    at = steps(grid, row, col)
    area = at.row_x * at.col_y - at.row_y * at.col_x
    per_row = np.stack([at.col_y, -at.col_x], axis=-1) / area[:, None]
    per_col = np.stack([-at.row_y, at.row_x], axis=-1) / area[:, None]
    found = _rise(grid, row, col)
    found = np.fmax(found, np.fmax.reduce(_rise(grid, *_places(grid, rim)), axis=1))
    for lines, per_m, sides in (
        (near_row[:, None] + downs - row[:, None], per_row, ((-SIDE, 0.0), (SIDE, 0.0))),
        (near_col[:, None] + alongs - col[:, None], per_col, ((0.0, -SIDE), (0.0, SIDE))),
    ):
        for ends in _rim_on_lines(xy_m, lines, per_m, radius_m):
            which, line = np.nonzero(np.isfinite(ends[..., 0]))
            place = _places(grid, ends[which, line])
            for down, along in sides:
                np.fmax.at(found, which, _rise(grid, *place, down, along))
    return np.fmax(found, _steepest_posts(grid, xy_m, radius_m, near_row, near_col, downs, alongs))


def _steepest_posts(
    grid: Grid, xy_m: Array, radius_m: float, row: Array, col: Array, downs: Array, alongs: Array
) -> Array:
    """The greatest rise beside any post within the radius of places `(k, 2)`, of those `downs`
    and `alongs` from the post `row`, `col (k,)`; what neighbours share is asked once."""
    post, mine = np.unique(row * KEY + col, return_inverse=True)
    one = np.empty(len(post), dtype=np.intp)
    one[mine] = np.arange(len(mine))
    row, col = row[one], col[one]
    found = np.full(len(xy_m), np.nan)
    for down, along in itertools.product(downs, alongs):
        i, j = row + down, col + along
        away = np.stack(frame_xy(grid, i, j), axis=-1)[mine] - xy_m
        within = (away * away).sum(axis=1) <= radius_m * radius_m
        if within.any():
            beside = itertools.product((-SIDE, SIDE), repeat=2)
            rise = np.fmax.reduce([_rise(grid, i, j, *side) for side in beside])
            found = np.fmax(found, np.where(within, rise[mine], np.nan))
    return found


def _rim_on_lines(xy_m: Array, lines: Array, per_m: Array, radius_m: float) -> tuple[Array, Array]:
    """Where `(k, l, 2)` the rim of a disc about `xy_m (k, 2)` meets lines of posts, `lines (k, l)`
    of them away where each metre leads over `per_m (k, 2)`; NaN where it does not."""
    each = np.sqrt((per_m * per_m).sum(axis=1))[:, None]
    off, across = lines / each, (per_m / each)[:, None]
    beside = np.stack([-across[..., 1], across[..., 0]], axis=-1)
    with np.errstate(invalid="ignore"):
        reach = np.sqrt(radius_m * radius_m - off * off)[..., None]
    foot = xy_m[:, None] + off[..., None] * across
    return foot + reach * beside, foot - reach * beside


def _places(grid: Grid, xy_m: Array) -> tuple[Array, Array]:
    return rows_cols(grid, xy_m[..., 0], xy_m[..., 1])


def _rise(grid: Grid, row: Array, col: Array, down: float = 0.0, along: float = 0.0) -> Array:
    """Steepness at places, of the patch that lies `down` rows and `along` columns of them."""
    i, j, inside = patch_at(grid, row + down, col + along)
    z00, z01, z10, z11 = corners(grid, i, j)
    twist = z00 - z01 - z10 + z11
    per_col, per_row = z01 - z00 + (row - i) * twist, z10 - z00 + (col - j) * twist
    at = steps(grid, row, col)
    area = at.row_x * at.col_y - at.row_y * at.col_x
    east = (per_row * at.col_y - per_col * at.row_y) / area
    north = (per_col * at.row_x - per_row * at.col_x) / area
    return np.where(inside, np.hypot(east, north), np.nan)


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
    steep = steepest_near(slopes, 0.5 * (start_m + end_m), 0.5 * length + reach)
    sound = (gap > 0.0) & np.isfinite(steep)
    steep = np.where(sound, steep, 0.0)
    over = gap - 0.5 * steep * length / max(pieces, 1)
    found = np.minimum(over / np.sqrt(1.0 + steep * steep), reach) - SLIP_M
    return np.where(sound & (found > 0.0), found, -np.inf)


def steepest_near(slopes: Slopes, middle_m: Array, around_m: Array) -> Array:
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
