"""What lies around a ride: shapes in degrees cut to so many metres of it."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from shotplan.model.arrays import Array
from shotplan.model.frame import Frame

Box = tuple[float, float, float, float]
COMPASS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


class Around:
    """`ride_lonlat_deg (k, 2)`, grown by `within_m`; shapes inside are in metres of `frame`."""

    def __init__(self, ride_lonlat_deg: Array, within_m: float) -> None:
        """The frame is about the ride's first point: surveys are read near it only."""
        self.ride_lonlat_deg = np.asarray(ride_lonlat_deg, dtype=float)
        self.within_m = within_m
        lon, lat = (float(v) for v in self.ride_lonlat_deg[0])
        self.frame = Frame(lon_deg=lon, lat_deg=lat)

    @cached_property
    def ride(self) -> BaseGeometry:
        """The ride as a line (a point where it has one place only)."""
        xy = self.frame.xy_m(self.ride_lonlat_deg)
        return shapely.LineString(xy) if len(xy) > 1 else shapely.Point(xy[0])

    @cached_property
    def region(self) -> BaseGeometry:
        """All within reach; the buffer's arcs lie a little inside, so 1 % is added."""
        grown: BaseGeometry = self.ride.buffer(self.within_m * 1.01)
        shapely.prepare(grown)
        return grown

    def box_deg(self, by_m: float) -> Box:
        """West, south, east, north of the ride grown by `by_m`."""
        west, south, east, north = self.ride.buffer(max(1.0, by_m * 1.02)).bounds
        ring = shapely.LinearRing([(west, south), (east, south), (east, north), (west, north)])
        edge = self.frame.lonlat_deg(shapely.get_coordinates(shapely.segmentize(ring, 1000.0)))
        (w, s), (e, n) = edge.min(axis=0), edge.max(axis=0)
        return float(w), float(s), float(e), float(n)

    def in_metres(self, shape_deg: BaseGeometry) -> BaseGeometry:
        """The same shape in the frame, made valid."""
        turned: BaseGeometry = shapely.transform(shape_deg, self.frame.xy_m)
        return turned if turned.is_valid else shapely.make_valid(turned)

    def distance_m(self, shape_m: BaseGeometry) -> float:
        """From the ride to the nearest point of the shape."""
        return float(self.ride.distance(shape_m))

    def bearing(self, shape_m: BaseGeometry) -> str:
        """From the ride's middle to the shape's, as one of eight words."""
        a, b = self.ride.centroid, shape_m.centroid
        turn = np.degrees(np.arctan2(b.x - a.x, b.y - a.y)) % 360.0
        return COMPASS[int((turn + 22.5) // 45.0) % 8]

    def cut(self, shape_m: BaseGeometry) -> list[BaseGeometry]:
        """The parts of a shape within reach, of the shape's own dimension, none tiny."""
        kind = shapely.get_dimensions(shape_m)
        parts = shapely.get_parts(self.region.intersection(shape_m), return_index=False)
        flat = [p for part in parts for p in _flat(part)]
        return [p for p in flat if shapely.get_dimensions(p) == kind and not _tiny(p)]

    def touches(self, shape_m: BaseGeometry) -> bool:
        """Whether any of it is within reach."""
        return bool(self.region.intersects(shape_m))

    def spans(self, line_m: BaseGeometry) -> list[BaseGeometry]:
        """The runs of whole spans of a line that touch the region: a wire is not cut in mid-air."""
        xy = shapely.get_coordinates(line_m)
        pairs = shapely.linestrings(np.stack([xy[:-1], xy[1:]], axis=1))
        near = np.flatnonzero(shapely.intersects(pairs, self.region))
        runs = np.split(near, np.flatnonzero(np.diff(near) > 1) + 1) if near.size else []
        return [shapely.LineString(xy[run[0] : run[-1] + 2]) for run in runs]

    def geometry(self, shape_m: BaseGeometry) -> dict[str, Any]:
        """As GeoJSON, to a centimetre."""
        deg = shapely.transform(shape_m, self.frame.lonlat_deg)
        made: dict[str, Any] = shapely.geometry.mapping(shapely.set_precision(deg, 0.0))
        return {"type": made["type"], "coordinates": _rounded(made["coordinates"])}


def _flat(shape: BaseGeometry) -> Iterable[BaseGeometry]:
    return shapely.get_parts(shape) if hasattr(shape, "geoms") else (shape,)


def _tiny(shape: BaseGeometry) -> bool:
    dimension = shapely.get_dimensions(shape)
    return bool((dimension == 2 and shape.area < 0.5) or (dimension == 1 and shape.length < 0.1))


def _rounded(nested: Any) -> Any:
    if isinstance(nested, float):
        return round(nested, 7)
    return [_rounded(n) for n in nested]


def apart(one: Box, other: Box) -> bool:
    """Whether two boxes in degrees have nothing in common."""
    return one[2] < other[0] or other[2] < one[0] or one[3] < other[1] or other[3] < one[1]


def told(box: Box) -> str:
    """`47.05 to 47.27 north, 9.47 to 9.64 east`: a box in degrees, negative where south or west."""
    west, south, east, north = box
    return f"latitude {south:.2f} to {north:.2f}, longitude {west:.2f} to {east:.2f}"
