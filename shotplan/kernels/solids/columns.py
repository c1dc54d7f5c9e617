"""Upright columns (crowns, trunks, poles): distance to the nearest, first cut of a ray."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.solids import cells as grid

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Span = tuple[Array, Array]
"""Fractions of a ray between which it is inside something convex; the first greater: never."""


class Columns(NamedTuple):
    """`xy_m (m, 2)`, `radius_m (m,)`, `bottom_m (m,)` (may be -inf), `top_m (m,)` (may be +inf)."""

    xy_m: Array
    radius_m: Array
    bottom_m: Array
    top_m: Array


class ColumnIndex(NamedTuple):
    """Columns sorted into a cell grid, and their places `x_m, y_m (m,)`; made once per site by
    `index`."""

    columns: Columns
    x_m: Array
    y_m: Array
    cells: grid.Cells


class Near(NamedTuple):
    """`distance_m (n,)` 3-D, 0 inside, +inf none within reach; `which (n,)` index or -1."""

    distance_m: Array
    which: Index


def index(columns: Columns) -> ColumnIndex:
    """Prepare columns for `nearest`."""
    low, high = _boxes(columns)
    x_m, y_m = np.ascontiguousarray(columns.xy_m.T)
    return ColumnIndex(columns, x_m, y_m, grid.make(low, high))


def nearest(index: ColumnIndex, xyz_m: Array, enough_m: float = 200.0) -> Near:
    """Nearest column to each of `xyz_m (n, 3)`; exact below `enough_m`, +inf beyond it.

    Of equally near ones the lowest index.
    """
    columns, x_m, y_m, _ = index

    def squared(points: grid.Points, item: Index) -> Array:
        x, y, z = points
        dx, dy = x_m.take(item), y_m.take(item)  # in place from here on: this is where time goes
        dx -= x
        dy -= y
        dx *= dx
        dy *= dy
        dx += dy
        level = np.sqrt(dx, out=dx)
        level -= columns.radius_m.take(item)
        np.maximum(level, 0.0, out=level)
        upright = upright_gap(z, columns.bottom_m.take(item), columns.top_m.take(item))
        level *= level
        upright *= upright
        level += upright
        return level

    return Near(*grid.nearest(index.cells, squared, xyz_m, enough_m))


def to_places_m(place_m: Array, xy_m: Array) -> Array:
    """Level distance `(n,)` from `xy_m (n, 2)` to the nearest of `place_m (k, 2)`; +inf of none."""
    none = np.zeros(len(place_m))
    places = index(Columns(place_m, none, none - np.inf, none + np.inf))
    return nearest(places, np.column_stack([xy_m, np.zeros(len(xy_m))]), np.inf).distance_m


def first_cut(columns: Columns, start_m: Array, end_m: Array) -> tuple[Array, Index]:
    """Fraction `(n,)` at which rays `(n, 3)` -> `(n, 3)` first enter a column (0 when they start
    inside one, +inf never), and which `(n,)` (-1 none). Touching counts as entering."""
    way = end_m - start_m

    def enter(ray: Index, item: Index) -> Array:
        start, ahead = start_m[ray], way[ray]
        disc = through_disc(start[:, :2] - columns.xy_m[item], ahead[:, :2], columns.radius_m[item])
        height = between(start[:, 2], ahead[:, 2], columns.bottom_m[item], columns.top_m[item])
        return entering(disc, height)

    pairs = grid.in_the_way(*_boxes(columns), start_m, end_m)
    return grid.first_of(pairs, enter, len(start_m))


def _boxes(columns: Columns) -> tuple[Array, Array]:
    wide = columns.radius_m[:, None]
    low = np.column_stack([columns.xy_m - wide, columns.bottom_m])
    return low, np.column_stack([columns.xy_m + wide, columns.top_m])


def upright_gap(z: Array, bottom: Array, top: Array) -> Array:
    """How far `z` is below `bottom` or above `top`; 0 between them."""
    return np.asarray(np.maximum(np.maximum(bottom - z, z - top), 0.0))


def between(start: Array, way: Array, low: Array | float, high: Array | float) -> Span:
    """Fractions where `start + fraction * way` is within `low` to `high` (may be infinite)."""
    still = way == 0.0
    one = np.where(still, 1.0, way)
    with np.errstate(over="ignore"):
        a, b = (low - start) / one, (high - start) / one
    never = still & ((start < low) | (start > high))
    enter = np.where(never, np.inf, np.where(still, -np.inf, np.minimum(a, b)))
    return enter, np.where(never, -np.inf, np.where(still, np.inf, np.maximum(a, b)))


def through_disc(start: Array, way: Array, radius: Array) -> Span:
    """Fractions where `start + fraction * way` `(..., 2)` is within `radius` of the origin."""
    square = (way * way).sum(axis=-1)
    still = square == 0.0
    over = np.where(still, 1.0, square)
    toward = -(start * way).sum(axis=-1) / over
    aside = start[..., 0] * way[..., 1] - start[..., 1] * way[..., 0]
    under = radius * radius * square - aside * aside
    half = np.sqrt(np.maximum(under, 0.0)) / over
    within = (start * start).sum(axis=-1) <= radius * radius
    met = np.where(still, within, under >= 0.0)
    half = np.where(still, np.inf, half)
    return np.where(met, toward - half, np.inf), np.where(met, toward + half, -np.inf)


def entering(*spans: Span) -> Array:
    """Fraction at which a ray enters what all spans have in common; +inf when it does not."""
    enter, leave = (np.array(a) for a in spans[0])
    for more in spans[1:]:
        np.maximum(enter, more[0], out=enter)
        np.minimum(leave, more[1], out=leave)
    np.maximum(enter, 0.0, out=enter)
    np.minimum(leave, 1.0, out=leave)
    return np.where(enter <= leave, enter, np.inf)
