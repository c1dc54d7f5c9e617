"""Bodies as they stand in ground.geojson."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any, NamedTuple

import numpy as np
import shapely

from shotplan.intake.lidar.cloud import Grid
from shotplan.intake.lidar.standing import Body
from shotplan.model.frame import System

DECIMALS = 7  # of a degree: a centimetre
LEAST_HEIGHT_ERROR_M, HEIGHT_ERROR = 1.0, 0.05  # of a height
MENDS_M = (0.0, 0.05, 0.3)


class How(NamedTuple):
    """`source`: the word ids begin with; `on`: when it was looked at; `error_m` of places,
    `height_error` (a share) of heights; `least_m`: what is lower may be missing."""

    source: str
    on: date | None
    error_m: float
    least_m: float
    grid: Grid
    system: System
    height_error: float = HEIGHT_ERROR


def features(bodies: Sequence[Body], how: How) -> list[dict[str, Any]]:
    """A feature each, numbered by role from the north-west."""
    placed = sorted(bodies, key=lambda b: (b.role, *np.round(b.shape.centroid.coords[0][::-1], 2)))
    shapes = _on_earth([b.shape for b in placed], how)
    number: dict[str, int] = {}
    found = []
    for body, shape in zip(placed, shapes, strict=True):
        number[body.role] = number.get(body.role, 0) + 1
        error_m = max(LEAST_HEIGHT_ERROR_M, round(how.height_error * body.height_m, 2))
        says: dict[str, Any] = {
            "height_m": body.height_m, "error_m": how.error_m, "height_error_m": error_m,
        }  # fmt: skip
        if body.radius_m:
            says["radius_m"] = body.radius_m
        if body.base_m:
            says["base_m"] = body.base_m
        name = f"{how.source}-{body.role}-{number[body.role]:04d}"
        found.append(_feature(name, body.role, shape, says, how))
    return found


def surveyed(
    areas: Sequence[shapely.Polygon], looked_for: Sequence[str], how: How
) -> list[dict[str, Any]]:
    """Where it looked, and for what."""
    says = {"looked_for": list(looked_for), "least_height_m": how.least_m, "error_m": how.error_m}
    return [
        _feature(f"{how.source}-surveyed-{k}", "surveyed", shape, says, how)
        for k, shape in enumerate(_on_earth(areas, how), 1)
    ]


def _feature(name: str, role: str, shape: Any, says: dict[str, Any], how: How) -> dict[str, Any]:
    dated = {"on": how.on.isoformat()} if how.on else {}
    kind, where = shape
    return {
        "type": "Feature",
        "properties": {"id": name, "role": role, **says, **dated},
        "geometry": {"type": kind, "coordinates": where},
    }


def _on_earth(shapes: Sequence[Any], how: How) -> list[tuple[str, Any]]:
    """Geometry type and coordinates, longitude first, simple also when rounded."""
    if not len(shapes):
        return []
    to = _rounded(how)
    turned = shapely.transform(np.array(shapes, dtype=object), to)
    bad = np.flatnonzero(~shapely.is_valid(turned))
    for k in bad.tolist():
        turned[k] = _mended(shapes[k], to)
    return [_coordinates(shape) for shape in shapely.orient_polygons(turned).tolist()]


def _rounded(how: How) -> Callable[[Any], Any]:
    return lambda xy: np.round(how.system.lonlat_deg(how.grid.back(xy)), DECIMALS)


def _mended(shape: shapely.Polygon, to: Callable[[Any], Any]) -> Any:
    """A little wider, until it is simple; at last what lies round it."""
    for by_m in MENDS_M:
        wider = shapely.transform(shape.buffer(by_m).simplify(0.5 * by_m), to)
        if isinstance(wider, shapely.Polygon) and wider.is_valid:
            return wider
    return shapely.transform(shape.convex_hull, to)


def _coordinates(shape: Any) -> tuple[str, Any]:
    if isinstance(shape, shapely.Point):
        return "Point", [shape.x, shape.y]
    rings = [shape.exterior, *shape.interiors]
    return "Polygon", [[list(p) for p in ring.coords] for ring in rings]
