"""Ways on foot over a raster of nodes: where one gets to from a line, and how far it is."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

PIECES = 4  # a step between nodes is looked at in so many pieces
_STEPS = ((0, 1), (1, 0), (1, 1), (1, -1))  # to half of the eight neighbours: ways go both ways


class Walk(NamedTuple):
    """`away_m (rows, cols)` on foot from the line to each node, +inf where no way leads; `first_m
    (2,)` the south-west node, `step_m` between nodes."""

    away_m: Array
    first_m: Array
    step_m: float

    def at(self, xy_m: Array) -> Array:
        """On foot to `xy_m (k, 2)`: to the nearest node; +inf outside, or where no way leads."""
        col, row = np.round((xy_m - self.first_m) / self.step_m).astype(int).T
        rows, cols = self.away_m.shape
        held = (row >= 0) & (row < rows) & (col >= 0) & (col < cols)
        away = self.away_m[np.clip(row, 0, rows - 1), np.clip(col, 0, cols - 1)]
        return np.where(held, away, np.inf)


def nodes(low_m: Array, high_m: Array, step_m: float) -> Array:
    """Nodes `(rows, cols, 2)` of an even raster from `low_m (2,)` to beyond `high_m (2,)`, rows to
    the north, columns to the east."""
    x = np.arange(low_m[0], high_m[0] + step_m, step_m)
    y = np.arange(low_m[1], high_m[1] + step_m, step_m)
    return np.stack(np.meshgrid(x, y), axis=-1)


def walk_m(
    xy_m: Array, z_m: Array, ground_m: Callable[[Array], Array], line_m: Array, steepest: float
) -> Walk:
    """Shortest ways from a line `line_m (m, 3)` over nodes `xy_m (rows, cols, 2)` at elevations
    `z_m` (NaN: nobody walks there), in steps to the eight neighbours.

    A step is a way where the ground (`ground_m`: `(..., 2)` -> elevation) rises or falls by no more
    than `steepest` on any of its pieces. One steps off the line onto nodes within a step of it, as
    steep. A way is up to 8 % longer than the straight line, as its steps have eight directions.
    Aslant a slope a way is less steep than straight up, as a path is. Neglected: what stands in the
    way.
    """
    step = float(xy_m[0, 1, 0] - xy_m[0, 0, 0])
    away = _from_line(xy_m, z_m, line_m, step, steepest)
    links = [_walkable(xy_m, z_m, ground_m, way, steepest) for way in _STEPS]
    while True:
        before = away.copy()
        for (down, right), link in zip(_STEPS, links, strict=True):
            here, there = _ends(away, down, right)
            far = np.where(link, step * np.hypot(down, right), np.inf)
            there[:] = np.minimum(there, here + far)
            here[:] = np.minimum(here, there + far)
        if (before == away).all():
            return Walk(away, xy_m[0, 0], step)


def _ends(nodes_: NDArray[np.float64], down: int, right: int) -> tuple[Array, Array]:
    """Views of the nodes at which steps start and end."""
    rows, cols = nodes_.shape[:2]
    start = nodes_[: rows - down, max(0, -right) : cols - max(0, right)]
    return start, nodes_[down:, max(0, right) : cols + min(0, right)]


def _walkable(
    xy_m: Array, z_m: Array, ground_m: Callable[[Array], Array], way: tuple[int, int],
    steepest: float,
) -> Bools:  # fmt: skip
    start, end = _ends(xy_m, *way)
    low, high = _ends(z_m, *way)
    share = np.arange(1, PIECES) / PIECES
    between = start[..., None, :] + share[:, None] * (end - start)[..., None, :]
    z = np.concatenate([low[..., None], ground_m(between), high[..., None]], axis=-1)
    length = np.hypot(*np.moveaxis(end - start, -1, 0))[..., None] / PIECES
    return np.asarray((np.abs(np.diff(z, axis=-1)) <= steepest * length).all(axis=-1))


def _from_line(xy_m: Array, z_m: Array, line_m: Array, step: float, steepest: float) -> Array:
    """How far nodes within a step of the line are from it; +inf the others, and too steep ones."""
    away = np.full(z_m.shape, np.inf)
    rows, cols = z_m.shape
    for point in line_m[np.isfinite(line_m).all(axis=1)]:
        col, row = np.floor((point[:2] - xy_m[0, 0]) / step).astype(int)
        part = (slice(max(row, 0), max(row + 2, 0)), slice(max(col, 0), max(col + 2, 0)))
        if row >= rows or col >= cols or not z_m[part].size:
            continue
        level = np.hypot(*np.moveaxis(xy_m[part] - point[:2], -1, 0))
        reached = np.abs(z_m[part] - point[2]) <= steepest * np.maximum(level, 1e-9)
        away[part] = np.where(reached, np.minimum(away[part], level), away[part])
    return away
