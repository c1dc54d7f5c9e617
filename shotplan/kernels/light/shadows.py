"""Which points of a picture lie in the shade of solids, and of the ground: by seeing from the sun.

What stands is drawn as the sun sees it, in parallel rays; a point is shaded where something nearer
to the sun was drawn over it. Points near the eye are looked at in finer pictures than far ones.
Half-shadows, and shade lighter than full, are neglected.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground.posts import Grid, frame_xy, sample
from shotplan.kernels.light import z_buffer

Array = NDArray[np.float64]

SIDE = 600  # pixels of each picture from the sun
PARTS_M = (0.0, 20.0, 50.0, 120.0, 300.0, 800.0, np.inf)  # away from the eye, each its own picture
FARTHEST_M = 3000.0  # how far toward the sun ground is looked for
GROWTH = 0.08  # of the steps toward the sun
RASTER = 200  # places to a side at which the shade of the ground is looked up
TOUCH_M = 0.02


def lit(
    points_m: Array, away_m: Array, spare_m: Array, toward: Array, corners_m: Array
) -> Array:  # fmt: skip
    """The share of light `(n,)` that triangles `corners_m (m, 3, 3)` leave to points `(n, 3)`: 0 in
    their shade, 1 out of it, between at its edge. Only those that face the sun count: solids are
    closed.

    `away_m (n,)` from the eye; triangles within `spare_m (n,)` of a point, toward the sun, do not
    shade it; `toward (3,)` is the unit vector to the sun, which is up.
    """
    share = np.ones(len(points_m))
    across = _across(toward)
    seen = corners_m @ across.T
    one, two = seen[:, 1, :2] - seen[:, 0, :2], seen[:, 2, :2] - seen[:, 0, :2]
    seen = seen[one[:, 0] * two[:, 1] > one[:, 1] * two[:, 0]]
    if not len(seen):
        return share
    here = points_m @ across.T
    for low, high in pairwise(PARTS_M):
        part = np.flatnonzero((away_m >= low) & (away_m < high))
        if len(part):
            share[part] = _in_part(here[part], spare_m[part], seen)
    return share


def _across(toward: Array) -> Array:
    """`(3, 3)`: two ways across the sun's rays and the way to it, one to a row."""
    level = np.array([toward[1], -toward[0], 0.0])
    size = float(np.hypot(level[0], level[1]))
    one = level / size if size > 1e-9 else np.array([1.0, 0.0, 0.0])
    return np.stack([one, np.cross(toward, one), toward])


def _in_part(here: Array, spare_m: Array, seen: Array) -> Array:
    low, high = here[:, :2].min(axis=0), here[:, :2].max(axis=0)
    reaches = (seen[..., :2].max(axis=1) >= low).all(axis=1)
    reaches &= (seen[..., :2].min(axis=1) <= high).all(axis=1)
    reaches &= seen[..., 2].max(axis=1) > float(here[:, 2].min())
    if not reaches.any():
        return np.ones(len(here))
    pixel_m = max(float((high - low).max()) / SIDE, 0.01)
    cols, rows = np.maximum(np.ceil((high - low) / pixel_m), 1.0).astype(int) + 2
    screen = (seen[reaches][..., :2] - low) / pixel_m + 1.0
    nearest, _ = z_buffer.highest(screen, seen[reaches][..., 2], rows, cols)
    at = (here[:, :2] - low) / pixel_m + 0.5
    first = np.floor(at).astype(np.intp)
    share = at - first
    free = np.zeros(len(here))
    for dx in (0, 1):
        for dy in (0, 1):
            col = np.clip(first[:, 0] + dx, 0, cols - 1)
            row = np.clip(first[:, 1] + dy, 0, rows - 1)
            weight = np.abs(1 - dx - share[:, 0]) * np.abs(1 - dy - share[:, 1])
            free += weight * (nearest[row, col] <= here[:, 2] + spare_m + TOUCH_M)
    return free


class Hidden(NamedTuple):
    """Up to which elevation the ground keeps the sun off: `level_m (RASTER, RASTER)` (-inf not at
    all) over a square from `low_m (2,)`, `step_m` apart, rows northward."""

    low_m: Array
    step_m: float
    level_m: Array


def by_ground(grid: Grid, middle_m: Array, half_m: float, toward: Array) -> Hidden:
    """The shade the ground throws on a square about `middle_m (2,)`; ground that is not known
    throws none."""
    axis = np.linspace(-half_m, half_m, RASTER)
    low, step = middle_m - half_m, float(axis[1] - axis[0])
    x, y = np.meshgrid(middle_m[0] + axis, middle_m[1] + axis)
    level = np.full(x.shape, -np.inf)
    flat = float(np.hypot(toward[0], toward[1]))
    if flat < 1e-9 or toward[2] <= 0.0:
        return Hidden(low, step, level)
    way, rise = toward[:2] / flat, toward[2] / flat
    highest, lowest = grid.highest[-1].max(), grid.lowest[-1].min()
    farthest = min((float(highest) - float(lowest)) / rise, FARTHEST_M)
    cell = float(np.hypot(*np.subtract(*_two_posts(grid))))
    reach = max(cell, step)
    while reach < farthest:
        z = sample(grid, np.stack([x + reach * way[0], y + reach * way[1]], axis=-1))
        np.fmax(level, z - reach * rise, out=level)
        reach *= 1.0 + GROWTH if reach * GROWTH > cell else 1.0 + cell / reach
    return Hidden(low, step, level)


def _two_posts(grid: Grid) -> tuple[Array, Array]:
    x, y = frame_xy(grid, np.array([0.0, 0.0]), np.array([0.0, 1.0]))
    return np.array([x[0], y[0]]), np.array([x[1], y[1]])


def lit_by_ground(hidden: Hidden, points_m: Array) -> Array:
    """The share of light `(n,)` that the ground leaves to points `(n, 3)`; 1 beyond the square."""
    at = (points_m[:, :2] - hidden.low_m) / hidden.step_m
    most = RASTER - 1
    inside = ((at >= 0.0) & (at <= most)).all(axis=1)
    first = np.clip(np.floor(at), 0, most - 1).astype(np.intp)
    share = np.clip(at - first, 0.0, 1.0)
    level = np.maximum(hidden.level_m, -1e6)
    col, row = first.T
    near = level[row, col] + share[:, 0] * (level[row, col + 1] - level[row, col])
    far = level[row + 1, col] + share[:, 0] * (level[row + 1, col + 1] - level[row + 1, col])
    over = near + share[:, 1] * (far - near) - points_m[:, 2]
    return np.where(inside, np.clip(1.0 - 4.0 * over, 0.0, 1.0), 1.0)
