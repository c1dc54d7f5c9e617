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
from shotplan.kernels.light.view_march import along, by_coordinate

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
    seen = along(across, corners_m)
    one, two = seen[:, 1, :2] - seen[:, 0, :2], seen[:, 2, :2] - seen[:, 0, :2]
    seen = seen[one[:, 0] * two[:, 1] > one[:, 1] * two[:, 0]]
    if not len(seen):
        return share
    boxes = _Boxes(seen, seen[..., :2].min(axis=1), seen[..., :2].max(axis=1),
                   seen[..., 2].max(axis=1))  # fmt: skip
    here = along(across, points_m)
    for low, high in pairwise(PARTS_M):
        part = np.flatnonzero((away_m >= low) & (away_m < high))
        if len(part):
            x, y, up = (here[part, k] for k in range(3))
            share[part] = _in_part(x, y, up, spare_m[part], boxes)
    return share


class _Boxes(NamedTuple):
    """Triangles `seen (m, 3, 3)` and about each its `low`, `high (m, 2)` across the sun's rays and
    the most of it `up (m,)` toward the sun."""

    seen: Array
    low: Array
    high: Array
    up: Array


def _across(toward: Array) -> Array:
    """`(3, 3)`: two ways across the sun's rays and the way to it, one to a row."""
    level = np.array([toward[1], -toward[0], 0.0])
    size = float(np.hypot(level[0], level[1]))
    one = level / size if size > 1e-9 else np.array([1.0, 0.0, 0.0])
    return np.stack([one, np.cross(toward, one), toward])


def _in_part(x: Array, y: Array, up: Array, spare_m: Array, boxes: _Boxes) -> Array:
    low, high = np.array([x.min(), y.min()]), np.array([x.max(), y.max()])
    reaches = (boxes.high >= low).all(axis=1) & (boxes.low <= high).all(axis=1)
    reaches &= boxes.up > float(up.min())
    if not reaches.any():
        return np.ones(len(x))
    pixel_m = max(float((high - low).max()) / SIDE, 0.01)
    cols, rows = np.maximum(np.ceil((high - low) / pixel_m), 1.0).astype(int) + 2
    seen = boxes.seen[reaches]
    screen = (seen[..., :2] - low) / pixel_m + 1.0
    nearest = z_buffer.highest_value(screen, seen[..., 2], rows, cols).ravel()
    across, down = (x - low[0]) / pixel_m + 0.5, (y - low[1]) / pixel_m + 0.5
    col, row = across.astype(np.intp), down.astype(np.intp)
    right, under = across - col, down - row
    corner, over = row * cols + col, up + spare_m + TOUCH_M
    free = np.zeros(len(x))
    for dx in (0, 1):
        for dy in (0, 1):
            weight = np.abs(1 - dx - right) * np.abs(1 - dy - under)
            free += weight * (nearest[corner + (dy * cols + dx)] <= over)
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
        z = sample(grid, by_coordinate(x + reach * way[0], y + reach * way[1]))
        np.fmax(level, z - reach * rise, out=level)
        reach *= 1.0 + GROWTH if reach * GROWTH > cell else 1.0 + cell / reach
    return Hidden(low, step, level)


def _two_posts(grid: Grid) -> tuple[Array, Array]:
    x, y = frame_xy(grid, np.array([0.0, 0.0]), np.array([0.0, 1.0]))
    return np.array([x[0], y[0]]), np.array([x[1], y[1]])


def lit_by_ground(hidden: Hidden, points_m: Array) -> Array:
    """The share of light `(n,)` that the ground leaves to points `(n, 3)`; 1 beyond the square."""
    x, y = ((points_m[:, k] - hidden.low_m[k]) / hidden.step_m for k in (0, 1))
    most = RASTER - 1
    inside = (x >= 0.0) & (x <= most) & (y >= 0.0) & (y <= most)
    col, row = (np.clip(np.floor(at), 0, most - 1).astype(np.intp) for at in (x, y))
    right, up = np.clip(x - col, 0.0, 1.0), np.clip(y - row, 0.0, 1.0)
    level, corner = np.maximum(hidden.level_m, -1e6).ravel(), row * RASTER + col
    west, next_west = level[corner], level[corner + RASTER]
    near = west + right * (level[corner + 1] - west)
    far = next_west + right * (level[corner + RASTER + 1] - next_west)
    over = near + up * (far - near) - points_m[:, 2]
    return np.where(inside, np.clip(1.0 - 4.0 * over, 0.0, 1.0), 1.0)
