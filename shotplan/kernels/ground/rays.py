"""What hides behind the ground: where straight rays are first cut, or leave what is known.

Rays are cut into ever shorter intervals. One that stays above the highest post of the (at most
2 by 2) squares that cover it is dropped, so is one behind the best cut found. Of those shorter
than a cell, the pieces over single patches are solved: the height of a straight line over a
bilinear patch is a quadratic.
"""

from __future__ import annotations

import itertools
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground.posts import (
    EDGE_CELLS,
    Array,
    Bools,
    Grid,
    Index,
    bilinear,
    corners,
    level_at,
    patch_at,
    rows_cols,
    sample,
)

BLOCK = 20_000  # rays at a time
TOUCH_M = 1e-6  # a ray that dips no deeper than this has only touched the ground


class Cut(NamedTuple):
    """Fractions of the ray from its start, +inf where not: `at (n,)` first cut by known ground,
    `unknown_at (n,)` first crossing of a missing patch or of beyond the edge."""

    at: Array
    unknown_at: Array


def first_cut(grid: Grid, start_m: Array, end_m: Array) -> Cut:
    """Where straight rays `start_m (n, 3)` -> `end_m (n, 3)` first dip below the surface.

    A ray that starts below is cut at 0, one that starts on the ground only where it dips; one
    that ends on the ground is cut at 1, unless it has no length. A ray that is not finite is
    nowhere: unknown at 0. Neglected: the bend of the frame's polynomial inside one cell.
    """
    count = len(start_m)
    at, unknown = np.full(count, np.inf), np.zeros(count)
    finite = np.isfinite(np.concatenate([start_m, end_m], axis=1)).all(axis=1)
    for first in range(0, count, BLOCK):
        block = first + np.flatnonzero(finite[first : first + BLOCK])
        rays = _rays(grid, start_m[block], end_m[block])
        at[block] = _march(grid, rays, _cut_at_ends(grid, start_m[block], end_m[block]), False)
        unknown[block] = _march(grid, rays, _unknown_at_ends(grid, rays), True)
    return Cut(at, unknown)


class _Rays(NamedTuple):
    """Row and column `(3, n)`, quadratics of the fraction, and height `(2, n)`, linear."""

    row: Array
    col: Array
    z: Array


def _rays(grid: Grid, start_m: Array, end_m: Array) -> _Rays:
    ends = [rows_cols(grid, p[:, 0], p[:, 1]) for p in (start_m, 0.5 * (start_m + end_m), end_m)]
    paths = []
    for first, middle, last in zip(*ends, strict=True):
        bend = 2.0 * (first + last - 2.0 * middle)
        paths.append(np.stack([first, last - first - bend, bend]))
    return _Rays(paths[0], paths[1], np.stack([start_m[:, 2], end_m[:, 2] - start_m[:, 2]]))


def _along(path: Array, ray: Index, t: Array) -> Array:
    return np.asarray(path[0, ray] + t * (path[1, ray] + t * path[2, ray]))


def _height(rays: _Rays, ray: Index, t: Array) -> Array:
    return np.asarray(rays.z[0, ray] + t * rays.z[1, ray])


def _cut_at_ends(grid: Grid, start_m: Array, end_m: Array) -> Array:
    below = start_m[:, 2] < sample(grid, start_m[:, :2]) - TOUCH_M
    reached = end_m[:, 2] <= sample(grid, end_m[:, :2]) + TOUCH_M
    reached &= (start_m != end_m).any(axis=1)
    return np.where(below, 0.0, np.where(reached, 1.0, np.inf))


def _unknown_at_ends(grid: Grid, rays: _Rays) -> Array:
    ray = np.arange(rays.z.shape[1])
    first, last = (
        _unknown(grid, _along(rays.row, ray, t), _along(rays.col, ray, t))
        for t in (np.zeros(len(ray)), np.ones(len(ray)))
    )
    return np.where(first, 0.0, np.where(last, 1.0, np.inf))


def _unknown(grid: Grid, row: Array, col: Array) -> Bools:
    i, j, inside = patch_at(grid, row, col)
    return ~inside | grid.missing[0][i, j]


class _Pieces(NamedTuple):
    """Intervals `t0`..`t1 (m,)` of rays `ray (m,)`."""

    ray: Index
    t0: Array
    t1: Array

    def where(self, keep: Bools) -> _Pieces:
        return _Pieces(self.ray[keep], self.t0[keep], self.t1[keep])


def _march(grid: Grid, rays: _Rays, found: Array, for_unknown: bool) -> Array:
    """Lower `found (n,)`, a fraction at which each ray is surely cut (or over unknown ground; +inf
    none known), to the first."""
    count = len(found)
    pieces = _Pieces(np.arange(count), np.zeros(count), np.ones(count))
    while len(pieces.ray):
        pieces = pieces.where(pieces.t0 < found[pieces.ray])
        cover = _cover(rays, pieces)
        if for_unknown:
            keep = _may_be_unknown(grid, cover)
        else:
            keep = _lowest(rays, pieces) <= _over_squares(grid.highest, np.maximum, cover)
        pieces, short = pieces.where(keep), cover.cells[keep] <= 1.0
        leaf, pieces = pieces.where(short), pieces.where(~short)
        solve = _first_unknown if for_unknown else _first_dip
        np.minimum.at(found, leaf.ray, solve(grid, rays, leaf))
        middle = 0.5 * (pieces.t0 + pieces.t1)
        row, col = _along(rays.row, pieces.ray, middle), _along(rays.col, pieces.ray, middle)
        if for_unknown:
            surely = _unknown(grid, row, col)
        else:
            surely = _height(rays, pieces.ray, middle) < level_at(grid, row, col) - TOUCH_M
        np.minimum.at(found, pieces.ray[surely], middle[surely])
        pieces = _Pieces(
            np.tile(pieces.ray, 2),
            np.concatenate([pieces.t0, middle]),
            np.concatenate([middle, pieces.t1]),
        )
    return found


class _Cover(NamedTuple):
    """Least and greatest row and column over each interval, and how many cells that is."""

    low: tuple[Array, Array]
    high: tuple[Array, Array]
    cells: Array


def _cover(rays: _Rays, pieces: _Pieces) -> _Cover:
    lows, highs = [], []
    for path in (rays.row, rays.col):
        first = _along(path, pieces.ray, pieces.t0)
        last = _along(path, pieces.ray, pieces.t1)
        sag = 0.25 * np.abs(path[2, pieces.ray]) * (pieces.t1 - pieces.t0) ** 2
        lows.append(np.minimum(first, last) - sag)
        highs.append(np.maximum(first, last) + sag)
    cells = np.maximum(highs[0] - lows[0], highs[1] - lows[1])
    return _Cover((lows[0], lows[1]), (highs[0], highs[1]), cells)


def _over_squares(pyramid: tuple[NDArray[Any], ...], join: np.ufunc, cover: _Cover) -> NDArray[Any]:
    """`join` of the pyramid's values over the at most 2 by 2 squares that cover each interval."""
    top = len(pyramid) - 1
    level = np.ceil(np.log2(np.clip(cover.cells, 1.0, 2.0**top))).astype(np.intp)
    found = np.empty(len(level), dtype=pyramid[0].dtype)
    for each in np.flatnonzero(np.bincount(level)):
        at, values = np.flatnonzero(level == each), pyramid[each]
        i0, i1, j0, j1 = (
            np.clip(np.floor(end[axis][at] / 2.0**each), 0, values.shape[axis] - 1).astype(np.intp)
            for axis in (0, 1)
            for end in (cover.low, cover.high)
        )
        found[at] = join(join(values[i0, j0], values[i0, j1]), join(values[i1, j0], values[i1, j1]))
    return found


def _lowest(rays: _Rays, pieces: _Pieces) -> Array:
    return np.minimum(_height(rays, pieces.ray, pieces.t0), _height(rays, pieces.ray, pieces.t1))


def _may_be_unknown(grid: Grid, cover: _Cover) -> Bools:
    found = np.asarray(_over_squares(grid.missing, np.logical_or, cover), dtype=bool)
    for axis in (0, 1):
        last = grid.z_m.shape[axis] - 1.0
        found |= (cover.low[axis] < -EDGE_CELLS) | (cover.high[axis] > last + EDGE_CELLS)
    return found


class _Leg(NamedTuple):
    """The part `a`..`b` (fractions of a short interval) over one patch; `row`, `col` at its ends,
    `(2, m)`."""

    a: Array
    b: Array
    row: Array
    col: Array


def _legs(rays: _Rays, short: _Pieces) -> list[_Leg]:
    """Intervals no longer than a cell, cut where they cross a row or a column (each one at most);
    straight in rows and columns."""
    ends = [
        (_along(path, short.ray, short.t0), _along(path, short.ray, short.t1))
        for path in (rays.row, rays.col)
    ]
    crossings = [_crossing(first, last) for first, last in ends]
    one, two = np.minimum(*crossings), np.maximum(*crossings)
    cuts = (np.zeros(len(one)), one, two, np.ones(len(one)))
    legs = []
    for a, b in itertools.pairwise(cuts):
        row, col = (
            np.stack([first + a * (last - first), first + b * (last - first)])
            for first, last in ends
        )
        legs.append(_Leg(a, b, row, col))
    return legs


def _crossing(first: Array, last: Array) -> Array:
    """The fraction of the way at which a whole number is crossed, 1 where none is."""
    whole = np.floor(np.maximum(first, last))
    crosses = whole > np.minimum(first, last)
    return np.where(crosses, (whole - first) / np.where(crosses, last - first, 1.0), 1.0)


def _first_unknown(grid: Grid, rays: _Rays, short: _Pieces) -> Array:
    found = np.full(len(short.ray), np.inf)
    for leg in _legs(rays, short):
        hit = (leg.b > leg.a) & _unknown(grid, leg.row.mean(axis=0), leg.col.mean(axis=0))
        at = short.t0 + leg.a * (short.t1 - short.t0)
        found = np.where(hit, np.minimum(found, at), found)
    return found


def _first_dip(grid: Grid, rays: _Rays, short: _Pieces) -> Array:
    found = np.full(len(short.ray), np.inf)
    for leg in _legs(rays, short):
        row, col = leg.row.mean(axis=0), leg.col.mean(axis=0)
        i, j, inside = patch_at(grid, row, col)
        patch = corners(grid, i, j)
        gaps = []
        for s, r, c in (
            (leg.a, leg.row[0], leg.col[0]),
            (0.5 * (leg.a + leg.b), row, col),
            (leg.b, leg.row[1], leg.col[1]),
        ):
            z = _height(rays, short.ray, short.t0 + s * (short.t1 - short.t0))
            gaps.append(z - bilinear(patch, c - j, r - i))
        share = _first_below(gaps[0], gaps[1], gaps[2])
        hit = inside & (leg.b > leg.a) & (share <= 1.0)
        s = leg.a + np.where(hit, share, 0.0) * (leg.b - leg.a)
        at = short.t0 + s * (short.t1 - short.t0)
        found = np.where(hit, np.minimum(found, at), found)
    return found


def _first_below(first: Array, middle: Array, last: Array) -> Array:
    """Where the quadratic through gaps at 0, 1/2 and 1 first falls below -TOUCH_M; 0 where it
    starts below, +inf where it never does or a gap is unknown."""
    a = 2.0 * (first + last - 2.0 * middle)
    b, c = last - first - a, first + TOUCH_M
    root = np.sqrt(np.maximum(b * b - 4.0 * a * c, 0.0))
    meets = b * b >= 4.0 * a * c
    falls, bends = meets & (b < 0.0), meets & (b >= 0.0) & (a < 0.0)
    share = np.full(first.shape, np.inf)
    share[falls] = 2.0 * c[falls] / (root - b)[falls]
    share[bends] = (b + root)[bends] / (-2.0 * a[bends])
    return np.where(c < 0.0, 0.0, share)
