"""GeoJSON (RFC 7946), written.

A third coordinate would be a height above the WGS 84 ellipsoid (section 3.1.1). Our elevations
count from the terrain's own zero, and how that lies to the ellipsoid is not known: so positions
have two numbers, and heights are properties that say which they are. Outer rings run
anticlockwise, holes clockwise (3.1.6). What crosses the 180th
meridian is cut there (3.1.9).
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shotplan.files.placed import Folder, Placed, degrees, rounded, sound, uncrossed


def write_geojson(folders: Sequence[Folder], about: Mapping[str, str]) -> bytes:
    """A FeatureCollection, a feature a line; `about` are members of its own beside it (section
    6.1). Every feature has the properties `kind`, `name`, `words`, `folder`, and its values."""
    head = json.dumps({"type": "FeatureCollection", **{k: sound(v) for k, v in about.items()}},
                      ensure_ascii=False)  # fmt: skip
    features = [
        json.dumps(_feature(thing, folder.name), ensure_ascii=False, allow_nan=False)
        for folder in uncrossed(folders)
        for thing in folder.things
    ]
    return (head[:-1] + ', "features": [\n' + ",\n".join(features) + "\n]}\n").encode("utf-8")


def _feature(thing: Placed, folder: str) -> dict[str, Any]:
    properties: dict[str, Any] = {
        "kind": thing.kind,
        "name": sound(thing.name),
        "words": sound(thing.words),
        "folder": sound(folder),
    }
    properties |= {key: rounded(value) for key, value in thing.values.items()}
    return {"type": "Feature", "geometry": _geometry(thing), "properties": properties}


def _geometry(thing: Placed) -> dict[str, Any]:
    if thing.shape == "point":
        return {"type": "Point", "coordinates": degrees(thing.parts[0])[0]}
    if thing.shape == "line":
        return {"type": "LineString", "coordinates": degrees(thing.parts[0])}
    rings = [degrees(_wound(ring, left=i == 0)) for i, ring in enumerate(thing.parts)]
    return {"type": "Polygon", "coordinates": rings}


def _wound(ring: NDArray[np.float64], *, left: bool) -> NDArray[np.float64]:
    """The ring closed, anticlockwise if `left`."""
    x, y = (ring - ring[0]).T
    doubled = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    turned = ring if (doubled > 0.0) == left else ring[::-1]
    return np.concatenate([turned, turned[:1]])
