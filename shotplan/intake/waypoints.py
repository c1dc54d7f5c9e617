"""What was marked on the way becomes things: waypoints of a recording by their names.

| name | becomes |
|---|---|
| `tree 12 r3` | a tree 12 m tall whose crown reaches 3 m |
| `pole 8` | a pole |
| `wire 8` | a wire 8 m up: all of one name joined in order (`wire 8 b` is another one); of one point alone the way it runs is not known, and it is drawn across the ride, as a guess that says so |
| `launch` | where it takes off |
| `look NAME` | a place to stand, its id made of the name |
| `gate` | where people may come: `may-pass`, for nobody said that somebody holds them there |
"""  # noqa: E501

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

import numpy as np

from shotplan.files.fixes import Waypoint
from shotplan.files.words import printable, shown
from shotplan.model.arrays import Array
from shotplan.model.disturbance import RECEIVER_M
from shotplan.model.frame import Frame

SOURCE = "waypoint"
TALLEST_M, WIDEST_M = 200.0, 30.0  # beyond these a name is a slip
ACROSS_M = 50.0  # to either side: a wire of which one point is known
_NUMBER = r"(\d{1,4}(?:[.,]\d+)?)\s*m?"
_NAMES = {
    "tree": re.compile(rf"tree\s+{_NUMBER}\s+r\s*{_NUMBER}", re.IGNORECASE),
    "pole": re.compile(rf"pole\s+{_NUMBER}", re.IGNORECASE),
    "wire": re.compile(rf"wire\s+{_NUMBER}(?:\s+(\w+))?", re.IGNORECASE),
    "launch": re.compile(r"launch", re.IGNORECASE),
    "look": re.compile(r"look\s+(.+)", re.IGNORECASE),
    "gate": re.compile(r"gate\b.*", re.IGNORECASE),
}

_MEASURED = {"tree": 2, "pole": 1, "wire": 1}  # how many numbers follow the word


def features_of(
    waypoints: Iterable[Waypoint], ride_lonlat_deg: Array, on: date | None = None
) -> tuple[list[dict[str, Any]], list[str]]:
    """GeoJSON features of waypoints and what there is to say of them, a sentence each.

    Each has the error of a receiver as `error_m`, and the day `on`. Ids begin with `waypoint-`, but
    for the launch and for places to look from, which people name.
    """
    features: list[dict[str, Any]] = []
    wires: dict[str, list[tuple[Waypoint, float]]] = {}
    said, strange = list[str](), list[str]()
    for point in waypoints:
        kind, words = _meant(point.name)
        measured = words[: _MEASURED.get(kind, 0)]
        numbers = [float(word.replace(",", ".")) for word in measured]
        if not kind or not _likely(kind, numbers):
            strange.append(point.name)
        elif kind == "wire":
            wires.setdefault("".join(words[1:]).casefold(), []).append((point, numbers[0]))
        else:
            features.append(_feature(kind, words, numbers, point, features))
    for points in wires.values():
        features.append(_wire(points, ride_lonlat_deg, features, said))
    launches = [f for f in features if f["properties"]["id"] == "launch"]
    for other in launches[:-1]:
        features.remove(other)
    if len(launches) > 1:
        said.append(f"{len(launches)} waypoints are called launch: the last one is taken")
    if strange:
        said.append(
            f"{len(strange)} waypoints are not taken, for example {shown(strange[0])}: names that "
            "are read look like tree 12 r3, pole 8, wire 8, launch, look NAME, gate"
        )
    for feature in features:
        feature["properties"] |= {"error_m": RECEIVER_M} | ({"on": on.isoformat()} if on else {})
    return features, said


def _likely(kind: str, numbers: Sequence[float]) -> bool:
    """Whether the height, and a crown's reach, are of this world."""
    most = (TALLEST_M, WIDEST_M if kind == "tree" else TALLEST_M)
    return all(0.0 < n <= limit for n, limit in zip(numbers, most, strict=False))


def _meant(name: str) -> tuple[str, tuple[str, ...]]:
    """What a name says: its kind ("" none) and the words after it."""
    for kind, pattern in _NAMES.items():
        if found := pattern.fullmatch(name.strip()):
            return kind, tuple(g for g in found.groups() if g)
    return "", ()


def _feature(
    kind: str,
    words: Sequence[str],
    numbers: Sequence[float],
    point: Waypoint,
    others: Sequence[dict[str, Any]],
) -> dict[str, Any]:
    says: dict[str, Any] = {"id": _id(kind, others), "role": kind}
    if kind == "tree":
        says |= {"height_m": numbers[0], "radius_m": numbers[1]}
    elif kind == "pole":
        says |= {"height_m": numbers[0]}
    elif kind == "gate":
        says |= {"role": "people", "name": printable(point.name)}
    elif kind == "launch":
        says |= {"id": "launch", "role": "place"}
    else:
        says |= {"id": _slug(words[0], others), "role": "place", "name": printable(words[0])}
    return _geojson(says, "Point", _rounded(point.lon_deg, point.lat_deg))


def _wire(
    points: Sequence[tuple[Waypoint, float]],
    ride_lonlat_deg: Array,
    others: Sequence[dict[str, Any]],
    said: list[str],
) -> dict[str, Any]:
    """A wire through all its points; across the ride where there is one only."""
    heights = [height for _, height in points]
    places = [_rounded(p.lon_deg, p.lat_deg) for p, _ in points]
    says: dict[str, Any] = {"id": _id("wire", others), "role": "wire", "height_m": heights}
    if len(points) == 1:
        says |= {"height_m": heights[0], "name": "guess: runs across the ride"}
        places = _across(points[0][0], ride_lonlat_deg)
        said.append(
            f"{shown(points[0][0].name)} is one point of a wire: it is drawn {ACROSS_M:g} m to "
            "either side across the ride; mark two points of it, or draw it"
        )
    else:
        said.append(
            f"{len(points)} waypoints {shown(points[0][0].name)} are one wire, joined in order: "
            "another one has a word behind (wire 8 b)"
        )
    return _geojson(says, "LineString", places)


def _across(point: Waypoint, ride_lonlat_deg: Array) -> list[list[float]]:
    """Two ends of a line through the point, square to the ride where it passes nearest."""
    frame = Frame(lon_deg=point.lon_deg, lat_deg=point.lat_deg)
    xy = frame.xy_m(ride_lonlat_deg)
    xy = xy[np.concatenate([[True], np.any(np.diff(xy, axis=0) != 0.0, axis=1)])]
    near = int(np.argmin(np.hypot(*xy.T)))
    way = xy[min(near + 1, len(xy) - 1)] - xy[max(near - 1, 0)]
    way = way / max(float(np.hypot(*way)), 1e-9) if way.any() else np.array([0.0, 1.0])
    side = np.array([way[1], -way[0]]) * ACROSS_M
    return [_rounded(*p) for p in frame.lonlat_deg(np.array([-side, side]))]


def _id(kind: str, others: Sequence[dict[str, Any]]) -> str:
    begin = f"{SOURCE}-{kind}-"
    return f"{begin}{1 + sum(o['properties']['id'].startswith(begin) for o in others)}"


def _slug(name: str, others: Sequence[dict[str, Any]]) -> str:
    """The name as an id: letters and digits of any script, small, the rest hyphens."""
    plain = re.sub(r"[\W_]+", "-", printable(name).casefold()).strip("-") or "look"
    taken = {o["properties"]["id"] for o in others} | {"launch"}
    return next(s for k in range(1, len(taken) + 3)
                if (s := plain if k == 1 else f"{plain}-{k}") not in taken)  # fmt: skip


def _geojson(says: dict[str, Any], kind: str, coordinates: Any) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": says,
        "geometry": {"type": kind, "coordinates": coordinates},
    }


def _rounded(lon_deg: float, lat_deg: float) -> list[float]:
    """To a centimetre."""
    return [round(float(lon_deg), 7), round(float(lat_deg), 7)]
