"""Geometry as drawn: points, lines and outlines, checked before anything is built on them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from shotplan.errors import Problems
from shotplan.kernels.solids.footprints import Outline, Region
from shotplan.model.arrays import Array

Geometry = Literal["point", "line", "polygon"]
KIND: dict[str, Geometry] = {
    "Point": "point",
    "MultiPoint": "point",
    "LineString": "line",
    "MultiLineString": "line",
    "Polygon": "polygon",
    "MultiPolygon": "polygon",
}
EARTH_M = 6_371_008.8  # mean radius; only ever to say how far apart two places are


@dataclass(frozen=True, kw_only=True)
class Shape:
    """`parts`: each a point `(1, 2)`, a line `(k, 2)`, or an outline of rings, in a tuple."""

    geometry: Geometry
    parts: tuple[Outline, ...]

    @property
    def points(self) -> Array:
        """`(k, 2)` every vertex."""
        return np.concatenate([ring for part in self.parts for ring in part])

    @property
    def middle(self) -> Array:
        """`(2,)` the mean of its vertices."""
        middle: Array = self.parts[0][0][0] if self.is_one_point else self.points.mean(axis=0)
        return middle

    @property
    def is_one_point(self) -> bool:
        """Whether it is nothing but a point."""
        return self.geometry == "point" and len(self.parts) == 1

    @property
    def region(self) -> Region:
        """It as the kernels ask how far off it is, without its holes."""
        return Region(self.outer, self.geometry == "polygon")

    @property
    def outer(self) -> tuple[Array, ...]:
        """Points, lines, or outer rings without their holes."""
        return tuple(part[0] for part in self.parts)


def moved(shapes: Sequence[Shape], into: Callable[[Array], Array]) -> list[Shape]:
    """The same shapes in other coordinates, turned together."""
    rings = [ring for shape in shapes for part in shape.parts for ring in part]
    if not rings:
        return []
    turned = into(np.concatenate(rings))
    ends = np.cumsum([len(ring) for ring in rings]).tolist()
    each = iter([turned[end - len(ring) : end] for ring, end in zip(rings, ends, strict=True)])
    return [
        Shape(
            geometry=shape.geometry,
            parts=tuple(tuple(next(each) for _ in part) for part in shape.parts),
        )
        for shape in shapes
    ]


def shape(kind: str, coordinates: Any, where: str, problems: Problems) -> Shape | None:
    """A GeoJSON geometry, as `files.geojson` reads it, in longitude, latitude; None where it is no
    line or no area."""
    geometry = KIND[kind]
    several = coordinates if kind.startswith("Multi") else (coordinates,)
    across = _across(several)
    if geometry == "polygon":
        rings = [tuple(_ring(ring, across=across) for ring in part) for part in several]
        sound = all(_is_simple(outline, where, problems) for outline in rings)
        parts = tuple(tuple(ring[:-1] for ring in outline) for outline in rings)
    else:
        parts = tuple((_ring(part, across=across).reshape(-1, 2),) for part in several)
        sound = geometry == "point" or all(np.any(line != line[0]) for (line,) in parts)
        if not sound:
            problems.add(where, "the line stays in one point; wanted two different points")
    return Shape(geometry=geometry, parts=parts) if sound else None


def _ring(raw: Any, *, across: bool) -> Array:
    found = np.array(raw, dtype=float)
    if across:
        found[..., 0] += 360.0 * (found[..., 0] < 0.0)
    return found


def _across(several: Any) -> bool:
    """Whether it lies on both sides of the 180th meridian: nothing of a site is half a world wide.
    Its longitudes are then counted on past 180."""
    flat = np.array([*_positions(several)], dtype=float)
    return bool(np.ptp(flat[:, 0]) > 180.0)


def _positions(nested: Any) -> Iterator[Any]:
    """Every position of nested lists of them."""
    if isinstance(nested[0], int | float):
        yield nested
    else:
        for part in nested:
            yield from _positions(part)


def unturned(lonlat_deg: Array) -> Array:
    """Positions `(k, 2)` as `shape` has them: across the 180th meridian counted on past it."""
    return _ring(lonlat_deg, across=_across([lonlat_deg.tolist()]))


def _is_simple(rings: Outline, where: str, problems: Problems) -> bool:
    import shapely

    polygon = shapely.Polygon(rings[0], rings[1:])
    if not polygon.is_valid:
        reason = shapely.is_valid_reason(polygon)
        problems.add(where, f"the polygon is not simple ({reason}): draw it without crossings")
        return False
    if polygon.area == 0.0:
        problems.add(where, "the polygon has no area")
        return False
    return True


def centroid_deg(drawn: Shape) -> Array:
    """`(2,)` centre in the longitude-latitude plane: of area, of length, or of the points."""
    import shapely

    if drawn.geometry == "polygon":
        made: Any = [shapely.Polygon(part[0], part[1:]) for part in drawn.parts]
    elif drawn.geometry == "line":
        made = [shapely.LineString(part[0]) for part in drawn.parts]
    else:
        made = [shapely.Point(part[0][0]) for part in drawn.parts]
    centre = shapely.centroid(shapely.GeometryCollection(made))
    return np.array([centre.x, centre.y])


def apart_m(one_deg: Array, other_deg: Array) -> Array:
    """Great-circle distance `(...)` between longitude, latitude pairs `(..., 2)`, on a sphere
    (0.5 % off)."""
    one, other = np.radians(one_deg), np.radians(other_deg)
    half = (
        np.sin((other[..., 1] - one[..., 1]) / 2) ** 2
        + np.cos(one[..., 1])
        * np.cos(other[..., 1])
        * np.sin((other[..., 0] - one[..., 0]) / 2) ** 2
    )
    return np.asarray(2.0 * EARTH_M * np.arcsin(np.sqrt(np.minimum(half, 1.0))))
