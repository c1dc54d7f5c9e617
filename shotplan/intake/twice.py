"""One thing in two surveys: the more exact one keeps it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from shotplan.intake.found import Found
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

RANKS = ("lidar", "canopy", "osm")  # the most exact first
SAME_M = 3.0
KIND = {"tree": "trees", "wood": "trees", "building": "buildings"}

Features = Iterable[Mapping[str, Any]]


def told_apart(found: Sequence[Found], ride_lonlat_deg: Array) -> tuple[Found, ...]:
    """Each without the trees, woods and buildings that a more exact one has: those that lie within
    3 m of its bodies with all they are, where it looked for their kind."""
    ranked = {one.source: one for one in found}
    lon, lat = (float(v) for v in ride_lonlat_deg[0])
    frame = Frame(lon_deg=lon, lat_deg=lat)
    for k, source in enumerate(RANKS):
        better = [ranked[name] for name in RANKS[:k] if name in ranked]
        if source in ranked:
            for one in better:
                ranked[source] = _without(ranked[source], one, frame)
    return tuple(ranked[one.source] for one in found)


def _without(found: Found, better: Found, frame: Frame) -> Found:
    import shapely

    looked = _looked(better.features, frame)
    near = shapely.union_all([_body(f, frame) for f in better.features if _role(f) in KIND])
    near = near.buffer(SAME_M, quad_segs=4)
    shapely.prepare(near)
    kept = []
    for feature in found.features:
        area = looked.get(KIND.get(_role(feature), ""))
        if area is not None:
            body = _shape(feature, frame)
            if near.covers(body) and area.covers(body):
                continue
        kept.append(feature)
    gone = len(found.features) - len(kept)
    if not gone:
        return found
    said = f"{gone} of its trees and buildings are left out: {better.source} has them, within 3 m"
    return replace(found, features=tuple(kept), said=(*found.said, said))


def _looked(features: Features, frame: Frame) -> dict[str, BaseGeometry]:
    """Kind -> where it was looked for."""
    import shapely

    areas = [(f["properties"].get("looked_for", ()), _shape(f, frame)) for f in features
             if _role(f) == "surveyed"]  # fmt: skip
    kinds = set(KIND.values())
    return {k: shapely.union_all([area for said, area in areas if k in said]) for k in kinds}


def _role(feature: Mapping[str, Any]) -> str:
    return str(feature["properties"].get("role", ""))


def _body(feature: Mapping[str, Any], frame: Frame) -> BaseGeometry:
    """What it fills, seen from above."""
    drawn = _shape(feature, frame)
    return drawn.buffer(feature["properties"]["radius_m"]) if _role(feature) == "tree" else drawn


def _shape(feature: Mapping[str, Any], frame: Frame) -> BaseGeometry:
    """As drawn, in frame metres."""
    import shapely
    from shapely.geometry import shape

    drawn = shape(feature["geometry"])
    return shapely.transform(drawn, lambda at: np.asarray(frame.xy_m(at)))
