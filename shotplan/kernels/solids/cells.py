"""Which of many items may be near a point, or in the way of a ray: a grid of cells per reach.

An item is known here by its box alone. For every reach asked for there is one grid in which each
item stands in all cells that come within that reach of its box, so that a point needs to look into
its own cell only. Short reaches are tried first; points with nothing near go on to the next.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]

FIRST_REACH_M = 6.25  # doubled until it suffices
CELLS_PER_REACH = 2.0
PAIRS = 100_000  # points times candidates worked on at once, so that they stay in the cache
POINTS = 100_000
MANY = 1_000  # points with an item left, from which on a turn of theirs is quicker than pairs
LONGEST = 2**15  # of a list, for that: counts of 16 bits are sorted at once
RAYS = 64
SLACK_M = 1e-6  # so that rounding never hides an item that touches the reach


class Level(NamedTuple):
    """The grid for one reach.

    `low_m (2,)` its corner, `shape` cells in x and y; cell `c` holds `item[first[c]:first[c + 1]]`,
    in ascending order.
    """

    low_m: Array
    cell_m: float
    shape: tuple[int, int]
    first: Index
    item: Index


class Cells(NamedTuple):
    """Boxes `low_m (m, 3)` to `high_m (m, 3)` (z may be infinite), all of them within `least_m` to
    `most_m (3,)`; `levels` by reach in metres, filled as they are first needed; `rough`: look at
    the boxes first, where items are costly."""

    low_m: Array
    high_m: Array
    least_m: Array
    most_m: Array
    levels: dict[float, Level]
    rough: bool


Points = tuple[Array, Array, Array]
"""x, y, z, each `(k,)`."""
Squared = Callable[[Points, Index], Array]
"""Squared distance `(k,)` from points to the items `(k,)`, never less than to the item's box."""


def make(low_m: Array, high_m: Array, rough: bool = False) -> Cells:
    """Boxes without any grid yet."""
    least, most = low_m.min(axis=0, initial=np.inf), high_m.max(axis=0, initial=-np.inf)
    return Cells(low_m, high_m, least, most, {}, rough)


def nearest(cells: Cells, squared: Squared, xyz_m: Array, enough_m: float) -> tuple[Array, Index]:
    """Distance `(n,)` from `xyz_m (n, 3)` to the nearest item and which it is (lowest of equals).

    Exact below `enough_m`; +inf and -1 from there on.
    """
    count = len(xyz_m)
    distance = np.full(count, np.inf)
    which = np.full(count, -1, dtype=np.intp)
    if not len(cells.low_m):
        return distance, which
    for start in range(0, count, POINTS):
        part = slice(start, start + POINTS)
        least, item = _nearest_in_block(cells, squared, xyz_m[part], enough_m)
        near = least < enough_m
        distance[part] = np.where(near, least, np.inf)
        which[part] = np.where(near, item, -1)
    return distance, which


def _nearest_in_block(
    cells: Cells, squared: Squared, xyz_m: Array, enough_m: float
) -> tuple[Array, Index]:
    """As `nearest`, but what lies beyond `enough_m` may hold any item at least that far.

    An item that a reach does not list is farther than that in plan and at least as far up or down
    as the nearest of all bottoms and tops.
    """
    x, y, z = np.ascontiguousarray(xyz_m.T)
    low, high = cells.least_m, cells.most_m
    upright = np.maximum(np.maximum(low[2] - z, z - high[2]), 0.0)
    farthest = np.hypot(np.maximum(x - low[0], high[0] - x), np.maximum(y - low[1], high[1] - y))
    best = np.full(len(x), np.inf)
    which = np.full(len(x), -1, dtype=np.intp)
    left = np.flatnonzero(upright < enough_m)
    reach = FIRST_REACH_M
    while len(left):
        level = _level(cells, reach)
        best[left], which[left] = _nearest_listed(cells, level, squared, _of((x, y, z), left))
        unlisted = np.hypot(upright[left], reach)
        open_ = (best[left] > unlisted) & (unlisted < enough_m) & (farthest[left] > reach)
        left = left[open_]
        reach *= 2.0
    return best, which


def _nearest_listed(
    cells: Cells, level: Level, squared: Squared, points: Points
) -> tuple[Array, Index]:
    """Nearest of the items in each point's cell."""
    first, count = _look_up(level, points[0], points[1])
    longest = count.max(initial=0)
    if not cells.rough and longest < LONGEST and count.sum() > MANY * longest:
        return _turn_by_turn(level, squared, points, first, count)
    return _pair_by_pair(cells, level, squared, points, first, count)


def _turn_by_turn(
    level: Level, squared: Squared, points: Points, first: Index, count: Index
) -> tuple[Array, Index]:
    """All points against the first item of their lists, then against the second: quick while many
    have one left. Those with the longest lists stand first, so that each turn takes a slice."""
    order = np.argsort(count.astype(np.int16), kind="stable")[::-1]
    shorter = np.searchsorted(count[order[::-1]], np.arange(count.max()), side="right")
    x, y, z = _of(points, order)
    first = first[order]
    best, which = np.full(len(x), np.inf), np.full(len(x), -1, dtype=np.intp)
    for turn, some in enumerate((len(x) - shorter).tolist()):
        item = level.item.take(first[:some] + turn)
        found = squared((x[:some], y[:some], z[:some]), item)
        np.copyto(which[:some], item, where=found < best[:some])
        np.minimum(best[:some], found, out=best[:some])
    back = np.empty_like(order)
    back[order] = np.arange(len(order))
    return np.sqrt(best)[back], which[back]


def _pair_by_pair(
    cells: Cells, level: Level, squared: Squared, points: Points, first: Index, count: Index
) -> tuple[Array, Index]:
    """All pairs written out, in pieces."""
    best = np.full(len(count), np.inf)
    which = np.full(len(count), -1, dtype=np.intp)
    some = np.flatnonzero(count)
    ends = np.cumsum(count[some])
    start = 0
    while start < len(some):
        done = ends[start - 1] if start else 0
        stop = max(int(np.searchsorted(ends, done + PAIRS, side="right")), start + 1)
        point, number = some[start:stop], count[some[start:stop]]
        owner = np.repeat(np.arange(len(point)), number)
        begin = ends[start:stop] - number - done
        item = level.item[np.arange(len(owner)) + np.repeat(first[point] - begin, number)]
        best[point], which[point] = _least_of_pairs(cells, squared, _of(points, point), owner, item)
        start = stop
    return np.sqrt(best), which


def _least_of_pairs(
    cells: Cells, squared: Squared, points: Points, owner: Index, item: Index
) -> tuple[Array, Index]:
    """Least squared distance of each point to its own items; every point owns at least one.

    With `cells.rough` only items whose box is not farther than the item of the nearest box is.
    """
    if cells.rough:
        box = _squared_to_box(cells, _of(points, owner), item)
        bound = squared(points, _first_least(box, owner, item)[1])
        keep = box <= (bound * (1.0 + 1e-9) + SLACK_M**2)[owner]
        owner, item = owner[keep], item[keep]
    found = squared(_of(points, owner), item)
    return _first_least(found, owner, item)


def _first_least(value: Array, owner: Index, item: Index) -> tuple[Array, Index]:
    """Least value of each owner (0, 1, ... in order, none left out) and the first item with it."""
    begin = np.flatnonzero(np.diff(owner, prepend=-1))
    least = np.minimum.reduceat(value, begin)
    which = np.empty(len(begin), dtype=np.intp)
    at = np.flatnonzero(value == least[owner])[::-1]  # backward: the first of equals stays
    which[owner[at]] = item[at]
    return least, which


def _of(points: Points, which: Index) -> Points:
    return points[0].take(which), points[1].take(which), points[2].take(which)


def _squared_to_box(cells: Cells, points: Points, item: Index) -> Array:
    total = np.zeros(len(item))
    for value, low, high in zip(points, cells.low_m.T, cells.high_m.T, strict=True):
        gap = np.maximum(np.maximum(low[item] - value, value - high[item]), 0.0)
        total += gap * gap
    return total


def _look_up(level: Level, x: Array, y: Array) -> tuple[Index, Index]:
    """Where each point's list begins and how long it is (0 outside the grid)."""
    columns, rows = level.shape
    i = np.floor((x - level.low_m[0]) / level.cell_m)
    j = np.floor((y - level.low_m[1]) / level.cell_m)
    inside = (i >= 0) & (i < columns) & (j >= 0) & (j < rows)
    cell = np.where(inside, i * rows + j, 0).astype(np.intp)
    first = level.first[cell]
    return first, np.where(inside, level.first[cell + 1] - first, 0)


def _level(cells: Cells, reach_m: float) -> Level:
    if reach_m not in cells.levels:
        cells.levels[reach_m] = _make_level(cells, reach_m)
    return cells.levels[reach_m]


def _make_level(cells: Cells, reach_m: float) -> Level:
    """List every item in the cells its box comes near; wider cells where that would be too many."""
    low = cells.low_m[:, :2] - (reach_m + SLACK_M)
    high = cells.high_m[:, :2] + (reach_m + SLACK_M)
    corner, count = low.min(axis=0), len(low)
    cell_m, most = reach_m / CELLS_PER_REACH, 2_000_000 + 64 * count
    while True:
        from_cell = np.floor((low - corner) / cell_m)
        wide = np.floor((high - corner) / cell_m) - from_cell + 1.0
        shape = np.floor((high.max(axis=0) - corner) / cell_m) + 1.0
        if max(shape.prod(), wide.prod(axis=1).sum()) <= most:
            break
        cell_m *= 2.0
    columns, rows = int(shape[0]), int(shape[1])
    number, deep = wide.prod(axis=1).astype(np.intp), wide[:, 1].astype(np.intp)
    corner_cell = (from_cell[:, 0] * rows + from_cell[:, 1]).astype(np.intp)
    item = np.repeat(np.arange(count), number)
    turn = np.arange(len(item)) - np.repeat(np.cumsum(number) - number, number)
    right, up = np.divmod(turn, deep[item])
    cell = corner_cell[item] + right * rows + up
    listed = np.bincount(cell, minlength=columns * rows)
    first = np.concatenate([np.zeros(1, dtype=np.intp), np.cumsum(listed)])
    in_order = np.sort(cell * count + item) % count  # one plain sort: far faster than argsort
    return Level(corner, cell_m, (columns, rows), first, in_order)


def in_the_way(
    low_m: Array, high_m: Array, start_m: Array, end_m: Array
) -> Iterator[tuple[Index, Index]]:
    """Pairs (ray, item) that may meet, block by block, rays and within them items ascending.

    Boxes `low_m, high_m (m, 3)`, rays `start_m, end_m (n, 3)`. A pair is kept when the boxes of
    ray and item touch and the ray's line passes the circle round the item's box in plan.
    """
    centre = 0.5 * (low_m[:, :2] + high_m[:, :2])
    radius = 0.5 * np.hypot(*(high_m[:, :2] - low_m[:, :2]).T) + SLACK_M
    least, most = np.minimum(start_m, end_m) - SLACK_M, np.maximum(start_m, end_m) + SLACK_M
    along = (end_m - start_m)[:, :2]
    length = np.hypot(along[:, 0], along[:, 1])
    for begin in range(0, len(start_m), RAYS):
        rays = slice(begin, begin + RAYS)
        met = (high_m >= least[rays].min(axis=0)) & (low_m <= most[rays].max(axis=0))
        item = np.flatnonzero(met.all(axis=1))
        if not len(item):
            continue
        from_start = centre[item] - start_m[rays, None, :2]
        side = along[rays, None, 0] * from_start[..., 1] - along[rays, None, 1] * from_start[..., 0]
        keep = np.abs(side) <= radius[item] * length[rays, None]
        for axis in range(3):
            keep &= high_m[item, axis] >= least[rays, None, axis]
            keep &= low_m[item, axis] <= most[rays, None, axis]
        ray, at = np.nonzero(keep)
        if len(ray):
            yield ray + begin, item[at]


def first_of(
    pairs: Iterator[tuple[Index, Index]],
    enter: Callable[[Index, Index], Array],
    rays: int,
) -> tuple[Array, Index]:
    """Least of `enter(ray, item)` for each of `rays` and which item (lowest of equals, -1 none)."""
    at = np.full(rays, np.inf)
    which = np.full(rays, -1, dtype=np.intp)
    for ray, item in pairs:
        found = enter(ray, item)
        np.minimum.at(at, ray, found)
        hit = np.flatnonzero((found == at[ray]) & np.isfinite(found))[::-1]
        which[ray[hit]] = item[hit]
    return at, which
