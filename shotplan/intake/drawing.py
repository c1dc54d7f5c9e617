"""The drawing of a started site: a launch, the boundary asked for, a ride to replace."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from shotplan.files.geojson_kept import EMPTY, parts, piece, whole
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame

PLACEHOLDER = "draw-your-ride"


def text(
    lonlat_deg: Array,
    around_m: float | None,
    *,
    placeholder: bool,
    more: Sequence[dict[str, Any]] = (),
) -> str:
    """ground.geojson with a launch where the ride `lonlat_deg (k, 2)` begins, unless `more` has
    one; the boundary only where it was asked for, the ride only where it is a placeholder."""
    features = [] if around_m is None else [_boundary(lonlat_deg, around_m, "boundary")]
    if not any(f["properties"]["id"] == "launch" for f in more):
        first, name = _rounded(lonlat_deg[0]), "guess: where the ride begins"
        features.append(_feature("launch", "place", "Point", first, name))
    features += more
    if placeholder:
        line = [_rounded(p) for p in lonlat_deg]
        name = "placeholder: draw your own ride instead"
        features.append(_feature(PLACEHOLDER, "ride", "LineString", line, name))
    members = parts(EMPTY).members
    return whole(members, [piece(f) for f in features])


def with_boundary(drawn: str, lonlat_deg: Array, around_m: float) -> str:
    """The same text, with a boundary around the ride `(k, 2)` behind all that is drawn."""
    old = parts(drawn.removeprefix("\ufeff"))
    taken = {feature.id for feature in old.features}
    name = next(n for k in range(len(taken) + 1) if (n := f"boundary-{k}" if k else "boundary")
                not in taken)  # fmt: skip
    return whole(old.members, [*old.features, piece(_boundary(lonlat_deg, around_m, name))])


def length_m(lonlat_deg: Array) -> float:
    """Of a line `(k, 2)`."""
    xy = _frame(lonlat_deg).xy_m(lonlat_deg)
    return float(np.hypot(*np.diff(xy, axis=0).T).sum())


def _frame(lonlat_deg: Array) -> Frame:
    lon, lat = (float(v) for v in lonlat_deg[0])
    return Frame(lon_deg=lon, lat_deg=lat)


def _boundary(lonlat_deg: Array, around_m: float, id_: str) -> dict[str, Any]:
    name = f"a rectangle {around_m:g} m around the ride: draw your own"
    return _feature(id_, "boundary", "Polygon", [_around(lonlat_deg, around_m)], name)


def _feature(id_: str, role: str, kind: str, coordinates: Any, name: str) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": {"id": id_, "role": role, "name": name},
        "geometry": {"type": kind, "coordinates": coordinates},
    }


def _around(lonlat_deg: Array, by_m: float) -> list[list[float]]:
    frame = _frame(lonlat_deg)
    xy = frame.xy_m(lonlat_deg)
    (west, south), (east, north) = xy.min(axis=0) - by_m, xy.max(axis=0) + by_m
    ring = np.array([(west, south), (east, south), (east, north), (west, north), (west, south)])
    return [_rounded(p) for p in frame.lonlat_deg(ring)]


def _rounded(lonlat_deg: Array) -> list[float]:
    """To a centimetre."""
    return [round(float(v), 7) for v in lonlat_deg]
