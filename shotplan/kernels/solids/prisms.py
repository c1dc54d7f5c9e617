"""Upright prisms over rounded triangles (walls, roofs, woods, wire curtains, zones).

A footprint is a triangle grown by a radius: a corner repeated makes a thick line, three times a
disc. Every piece is convex.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.solids import cells as grid
from shotplan.kernels.solids.columns import Near, between, entering, through_disc, upright_gap

Array = NDArray[np.float64]
Index = NDArray[np.intp]

FLAT = 1e-9  # a triangle lower than this share of its longest side is its sides


class Prisms(NamedTuple):
    """`corners_m (m, 3, 2)`, `radius_m (m,)`, `bottom_m (m,)` (may be -inf), `top_m (m,)`."""

    corners_m: Array
    radius_m: Array
    bottom_m: Array
    top_m: Array


class Sides(NamedTuple):
    """Triangles by their sides, anticlockwise: side k goes from `corner_m[:, k] (2, 3, m)` by
    `side_m[:, k]`, `over_square[k] (3, m)` is 1 / length² (0 for a point); `solid (m,)` is False
    where the triangle has no inside."""

    corner_m: Array
    side_m: Array
    over_square: Array
    solid: NDArray[np.bool_]


class PrismIndex(NamedTuple):
    """Prisms sorted into a cell grid; made once per site by `index`."""

    prisms: Prisms
    sides: Sides
    cells: grid.Cells


def index(prisms: Prisms) -> PrismIndex:
    """Prepare prisms for `nearest`."""
    low, high = _boxes(prisms)
    return PrismIndex(prisms, _sides(prisms), grid.make(low, high, rough=True))


def nearest(index: PrismIndex, xyz_m: Array, enough_m: float = 200.0) -> Near:
    """Nearest prism to each of `xyz_m (n, 3)`; exact below `enough_m`, +inf beyond it.

    Of equally near ones the lowest index.
    """
    prisms = index.prisms

    def squared(points: grid.Points, item: Index) -> Array:
        x, y, z = points
        level = _level_gap(index.sides, prisms.radius_m[item], x, y, item)
        upright = upright_gap(z, prisms.bottom_m[item], prisms.top_m[item])
        return np.asarray(level * level + upright * upright)

    return Near(*grid.nearest(index.cells, squared, xyz_m, enough_m))


def plan_distance(prisms: Prisms, xy_m: Array) -> Array:
    """Level distance `(n, m)` from `xy_m (n, 2)` to every footprint, 0 inside (small sets only)."""
    item = np.arange(len(prisms.radius_m))[None, :]
    x, y = xy_m[:, :1], xy_m[:, 1:]
    return _level_gap(_sides(prisms), prisms.radius_m[item], x, y, item)


def first_cut(prisms: Prisms, start_m: Array, end_m: Array) -> tuple[Array, Index]:
    """Fraction `(n,)` at which rays `(n, 3)` -> `(n, 3)` first enter a prism (0 when they start
    inside one, +inf never), and which `(n,)` (-1 none). Touching counts as entering.

    A rounded triangle is the triangle, a band along each side and a disc about each corner.
    """
    way = end_m - start_m
    sides = _sides(prisms)

    def enter(ray: Index, item: Index) -> Array:
        start, ahead = start_m[ray], way[ray]
        height = between(start[:, 2], ahead[:, 2], prisms.bottom_m[item], prisms.top_m[item])
        radius = prisms.radius_m[item]
        level, ahead = start[:, :2], ahead[:, :2]
        least = np.full(len(ray), np.inf)
        inside = [height]
        for corner_m, side_m in zip(
            np.moveaxis(sides.corner_m, 1, 0), np.moveaxis(sides.side_m, 1, 0), strict=True
        ):
            side = side_m[:, item].T
            start_at = level - corner_m[:, item].T
            length = np.hypot(side[:, 0], side[:, 1])
            disc = through_disc(start_at, ahead, radius)
            along = between(_dot(side, start_at), _dot(side, ahead), 0.0, length * length)
            off, turn = _cross(side, start_at), _cross(side, ahead)
            band = entering(height, along, between(off, turn, -radius * length, radius * length))
            band[length == 0.0] = np.inf
            least = np.minimum(least, np.minimum(band, entering(height, disc)))
            inside.append(between(off, turn, 0.0, np.inf))
        return np.asarray(np.minimum(least, np.where(sides.solid[item], entering(*inside), np.inf)))

    pairs = grid.in_the_way(*_boxes(prisms), start_m, end_m)
    return grid.first_of(pairs, enter, len(start_m))


def _level_gap(sides: Sides, radius: Array, x: Array, y: Array, item: Index) -> Array:
    """Level distance from points to the rounded triangles, shapes as they broadcast."""
    inside = sides.solid[item]
    least = np.inf
    for k in range(3):
        ex, ey = sides.side_m[0, k][item], sides.side_m[1, k][item]
        px, py = x - sides.corner_m[0, k][item], y - sides.corner_m[1, k][item]
        share = np.clip((px * ex + py * ey) * sides.over_square[k][item], 0.0, 1.0)
        inside = inside & (ex * py - ey * px >= 0.0)
        px, py = px - share * ex, py - share * ey
        least = np.minimum(least, px * px + py * py)
    return np.where(inside, 0.0, np.maximum(np.sqrt(least) - radius, 0.0))


def _sides(prisms: Prisms) -> Sides:
    corners = prisms.corners_m.reshape(-1, 3, 2)
    side = np.roll(corners, -1, axis=1) - corners
    turn = _cross(side[:, 0], side[:, 1])
    corners = np.where((turn < 0.0)[:, None, None], corners[:, ::-1], corners)
    side = np.roll(corners, -1, axis=1) - corners
    square = _dot(side, side)
    solid = np.abs(turn) > FLAT * square.max(axis=1, initial=0.0)
    over = np.divide(1.0, square, out=np.zeros_like(square), where=square > 0.0)
    by_axis = (2, 1, 0)
    return Sides(
        np.ascontiguousarray(corners.transpose(by_axis)),
        np.ascontiguousarray(side.transpose(by_axis)),
        np.ascontiguousarray(over.T),
        solid,
    )


def _boxes(prisms: Prisms) -> tuple[Array, Array]:
    corners, wide = prisms.corners_m.reshape(-1, 3, 2), prisms.radius_m[:, None]
    low = np.column_stack([corners.min(axis=1) - wide, prisms.bottom_m])
    return low, np.column_stack([corners.max(axis=1) + wide, prisms.top_m])


def _dot(a: Array, b: Array) -> Array:
    return np.asarray(a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1])


def _cross(a: Array, b: Array) -> Array:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])
