"""Outlines of cells and of roofs, in metres; circles about returns."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage

from shotplan.model.arrays import Array, Bools

SLACK, SLACK_M = 0.36, 0.5  # an outline may go so far round its cells: that share of one, at most
NOTCH_M = 1.0  # notches of a roof up to twice that wide are closed
ALMOST = 1.15  # a rectangle so many times as large as the roof stands for it
HOLE_M2 = 20.0  # smaller openings are closed
MANY_CORNERS, STEP_M = 24, 0.5
HASTY_MITRE = 2.0


class Circles(NamedTuple):
    """`xy_m (k, 2)`, `radius_m (k,)`: the least that hold all their points."""

    xy_m: Array
    radius_m: Array


def circles(xy_m: Array, owner: NDArray[np.intp], count: int) -> Circles:
    """Of points `(n, 2)` the circle of each owner 0 to `count` - 1, who all have some."""
    order = np.argsort(owner, kind="stable")
    sets: Any = shapely.multipoints(np.asarray(shapely.points(xy_m[order])), indices=owner[order])
    found: Any = shapely.centroid(shapely.minimum_bounding_circle(sets))
    nothing = shapely.is_empty(found)  # all points in one place, nearly
    found[nothing] = shapely.centroid(sets[nothing])
    middle = np.column_stack([shapely.get_x(found), shapely.get_y(found)])
    away = np.hypot(*(xy_m - middle[owner]).T)
    return Circles(middle, np.asarray(ndimage.maximum(away, owner, np.arange(count)), dtype=float))


def of_cells(labels: NDArray[np.integer], cell_m: float) -> dict[int, shapely.Polygon]:
    """Label (from 1) -> the outline round its cells, which joins in one piece (by sides or by
    corners); holes smaller than `HOLE_M2` closed."""
    grown_m = min(SLACK * cell_m, SLACK_M)
    found = {}
    for label, cells in _joined(labels, cell_m).items():
        wide = cells.buffer(grown_m, join_style="mitre", mitre_limit=HASTY_MITRE)
        outline = _whole(wide).simplify(grown_m * 0.99)
        found[label] = _without_small_holes(outline)
    return found


def inside_cells(mask: Bools, cell_m: float) -> list[shapely.Polygon]:
    """Outlines that never go beyond the cells."""
    joined = _joined(mask.astype(int), cell_m).get(1)
    if joined is None:
        return []
    less = joined.buffer(-SLACK * cell_m, join_style="mitre").simplify(SLACK * cell_m * 0.99)
    return [part for part in shapely.get_parts(less).tolist() if part.area > cell_m**2]


def _joined(labels: NDArray[np.integer], cell_m: float) -> dict[int, Any]:
    """Runs of cells in rows, joined."""
    padded = np.pad(labels, ((0, 0), (1, 1)))
    row, col = np.nonzero(padded[:, 1:] != padded[:, :-1])
    change = padded[row, col + 1]  # what begins at each change; 0 where something only ends
    begins = change > 0
    ends = np.append(col[1:], 0)[begins]
    row, col, which = row[begins], col[begins], change[begins]
    boxes = shapely.box(col * cell_m, row * cell_m, ends * cell_m, (row + 1) * cell_m)
    order = np.argsort(which, kind="stable")
    found, first = np.unique(which[order], return_index=True)
    groups = np.split(boxes[order], first[1:])
    return {int(k): shapely.union_all(g) for k, g in zip(found, groups, strict=bool(len(found)))}


def roof(xy_m: Array, cell_m: float) -> shapely.Polygon:
    """An outline with square corners that holds all points of a roof, along its longest way."""
    hull = shapely.MultiPoint(xy_m).convex_hull.buffer(0.5 * cell_m)
    box = shapely.minimum_rotated_rectangle(hull)
    ring = shapely.get_coordinates(box)
    legs = np.diff(ring[:3], axis=0)
    east, south = legs[np.hypot(*legs.T).argmax()]
    turn = np.arctan2(south, east)
    way = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    turned = xy_m @ way
    low = turned.min(axis=0) - 0.25 * cell_m
    at = np.floor((turned - low) / cell_m).astype(int)
    cells = np.zeros(at.max(axis=0)[::-1] + 1, dtype=int)
    cells[at[:, 1], at[:, 0]] = 1
    outline = _whole(_joined(cells, cell_m)[1])
    wide = outline.buffer(NOTCH_M, join_style="mitre").buffer(-NOTCH_M, join_style="mitre")
    whole = _without_small_holes(_whole(wide.simplify(0.01)))
    if len(whole.exterior.coords) > MANY_CORNERS:  # a wing at an angle: its steps are no corners
        grown = whole.buffer(STEP_M, join_style="mitre", mitre_limit=HASTY_MITRE)
        whole = _without_small_holes(_whole(grown).simplify(0.99 * STEP_M))
    around = shapely.box(*whole.bounds)
    if around.area <= ALMOST * whole.area:
        whole = around
    return shapely.transform(whole, lambda p: (p + low) @ way.T)


def _whole(shape: Any) -> Any:
    """One polygon: parts that touch in corners or lie near are joined by what is between them."""
    if isinstance(shape, shapely.Polygon):
        return shape
    for by_m in (0.1, 0.5, 1.0, 2.0, 4.0):
        near = shape.buffer(by_m, join_style="mitre").buffer(-0.9 * by_m, join_style="mitre")
        if isinstance(near, shapely.Polygon):
            return near
    return shape.convex_hull


def _without_small_holes(shape: Any) -> shapely.Polygon:
    large = [ring for ring in shape.interiors if shapely.Polygon(ring).area >= HOLE_M2]
    return shapely.Polygon(shape.exterior, large)
