"""GeoJSON (RFC 7946): features with sound positions and an id each."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from shotplan.errors import Problems
from shotplan.files.disk import MEGABYTE, read_text
from shotplan.files.words import listed, nearest_name, one_line, printable, shown

LARGEST = 50 * MEGABYTE
CRS84 = ("urn:ogc:def:crs:OGC:1.3:CRS84", "urn:ogc:def:crs:OGC::CRS84")
_ESCAPE = re.compile(
    r"\\(?:u[dD][89abAB][0-9a-fA-F]{2}\\u[dD][c-fC-F][0-9a-fA-F]{2}|(u[dD][89a-fA-F]..)|.)"
)
LEAST_POSITIONS = {"LineString": 2, "MultiLineString": 2, "Polygon": 4, "MultiPolygon": 4}
DEPTH = {
    "Point": 0,
    "MultiPoint": 1,
    "LineString": 1,
    "MultiLineString": 2,
    "Polygon": 2,
    "MultiPolygon": 3,
}


class Feature(NamedTuple):
    """One feature. `index` counts from 1; `coordinates` nested tuples of (lon, lat) in degrees, as
    the type nests them (a third number in a position is dropped); `properties` without `id`."""

    index: int  # type: ignore[assignment]
    id: str
    geometry_type: str
    coordinates: Any
    properties: Mapping[str, object]

    @property
    def label(self) -> str:
        """`feature 3 (tree-07)`: use as f"{where}: {feature.label}"."""
        return _label(self.index, self.id)


class Collection(NamedTuple):
    """All sound features of a file, and its member `sources` as it stands there (None: it has
    none)."""

    features: tuple[Feature, ...]
    sources: object


class _Unsound(Exception):
    """Why a geometry cannot be used."""


def read_geojson(path: Path, where: str, problems: Problems) -> tuple[Feature, ...] | None:
    """All sound features; None where the file as a whole is unreadable (problems say why)."""
    found = read_collection(path, where, problems)
    return None if found is None else found.features


def read_collection(path: Path, where: str, problems: Problems) -> Collection | None:
    """The same, with what the file says of where its features come from."""
    text = read_text(path, LARGEST, where, problems)
    if text is None:
        return None
    if half := _half_character(text):
        problems.add(where, f"holds half a character, {half}: save its texts as UTF-8")
        return None
    try:
        raw = json.loads(text, parse_constant=_no_number, object_pairs_hook=_once)
    except RecursionError:
        problems.add(where, "is nested too deeply")
        return None
    except ValueError as error:
        problems.add(where, f"is not JSON: {one_line(str(error))}")
        return None
    kind = raw.get("type") if isinstance(raw, dict) else None
    members = raw.get("features") if isinstance(raw, dict) else None
    if kind != "FeatureCollection" or not isinstance(members, list):
        got = f"type {shown(kind)}" if kind is not None else shown(raw)
        got = "a text" if isinstance(raw, str) else got  # which is not ours to repeat
        problems.add(where, f"got {got}; wanted a FeatureCollection with a list of features")
        return None
    if not _crs84(raw):
        problems.add(where, _CRS)
        return None
    return Collection(_features(members, where, problems), raw.get("sources"))


_CRS = (
    "has a crs member; RFC 7946 section 4 has none: save it as WGS 84 longitude, latitude "
    "(EPSG:4326, RFC 7946) and without crs"
)


def _half_character(text: str) -> str:
    """The first escape that is one half of a surrogate pair alone (no file or page could hold
    it); "" where there is none."""
    halves = (m.group() for m in _ESCAPE.finditer(text) if m.group(1))
    return next(halves, "")


def _no_number(name: str) -> None:
    raise ValueError(f"{name} is not a number JSON has")


def _once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    """A JSON object, refused where a key stands twice (one of the two would be lost)."""
    made = dict(pairs)
    if len(made) < len(pairs):
        seen: set[str] = set()
        twice = next(k for k, _ in pairs if k in seen or seen.add(k))  # type: ignore[func-returns-value]
        raise ValueError(f"key {shown(twice)} stands twice in the same object")
    return made


def _crs84(raw: Mapping[str, object]) -> bool:
    """Whether there is no crs member, or one that says what RFC 7946 says anyway."""
    crs = raw.get("crs")
    properties = crs.get("properties") if isinstance(crs, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    return crs is None or name in CRS84


def _label(index: int, name: object) -> str:
    return f"feature {index}" + (f" ({printable(name)})" if isinstance(name, str) else "")


def _features(members: list[object], where: str, problems: Problems) -> tuple[Feature, ...]:
    found: list[Feature] = []
    first: dict[str, int] = {}
    for index, member in enumerate(members, start=1):
        if not isinstance(member, dict) or member.get("type") != "Feature":
            problems.add(f"{where}: feature {index}", f"got {shown(member)}; wanted a Feature")
            continue
        name = _id(member, f"{where}: feature {index}", problems)
        if name is None:
            continue
        here = f"{where}: {_label(index, name)}"
        if name in first:
            problems.add(here, f"feature {first[name]} has the same id: every id stands once")
            continue
        first[name] = index
        if (feature := _feature(index, name, member, here, problems)) is not None:
            found.append(feature)
    return tuple(found)


def _id(member: Mapping[str, object], here: str, problems: Problems) -> str | None:
    """The feature's id, or its properties' id; a problem where it has none or two."""
    properties = member.get("properties")
    inner = properties.get("id") if isinstance(properties, dict) else None
    outer = member.get("id")
    name = inner if outer is None else outer
    if name is None:
        problems.add(here, 'has no id; every feature needs one: a text such as "tree-07"')
    elif not isinstance(name, str):
        hint = f': write "{name}"' if type(name) is int and abs(name) < 10**20 else ""
        problems.add(here, f"id is {shown(name)}; wanted a text{hint}")
    elif not name.strip() or not (name.isprintable() or all(ord(c) >= 32 for c in name)):
        problems.add(here, f"id is {shown(name)}; wanted a text on one line, not empty")
    elif inner is not None and inner != name:
        problems.add(here, f"has two ids, {shown(name)} and {shown(inner)}: keep one")
    else:
        return name
    return None


def _feature(
    index: int, name: str, member: Mapping[str, object], here: str, problems: Problems
) -> Feature | None:
    properties = member.get("properties")
    geometry = member.get("geometry")
    if properties is not None and not isinstance(properties, dict):
        problems.add(here, f"properties is {shown(properties)}; wanted an object")
        return None
    if not isinstance(geometry, dict):
        problems.add(here, f"geometry is {shown(geometry)}; wanted one of {listed(DEPTH)}")
        return None
    if not (_crs84(member) and _crs84(geometry)):
        problems.add(here, _CRS)
        return None
    kind = geometry.get("type")
    if not isinstance(kind, str) or kind not in DEPTH:
        near = nearest_name(kind, DEPTH) if isinstance(kind, str) else ""
        problems.add(here, f"geometry type is {shown(kind)}; wanted {listed(DEPTH)}{near}")
        return None
    try:
        coordinates = _coordinates(kind, geometry.get("coordinates"))
    except _Unsound as error:
        problems.add(here, str(error))
        return None
    rest = {k: v for k, v in (properties or {}).items() if k != "id"}
    return Feature(index, name, kind, coordinates, rest)


def _coordinates(kind: str, raw: object) -> Any:
    """Coordinates of a geometry as nested tuples of (lon, lat); `_Unsound` says what is wrong."""
    place = _line(kind) if kind not in ("Point", "MultiPoint") else _position
    nested: Any = place
    for _ in range(DEPTH[kind] - (place is not _position)):
        nested = _list_of(nested, kind)
    return nested(raw)


def _list_of(item: Callable[[object], Any], kind: str) -> Callable[[object], Any]:
    def many(raw: object) -> tuple[Any, ...]:
        if not isinstance(raw, list) or not raw:
            raise _Unsound(f"coordinates of a {kind} hold {shown(raw)} where a list is wanted")
        return tuple(item(r) for r in raw)

    return many


def _line(kind: str) -> Callable[[object], Any]:
    """A checker of a line or ring of a geometry type."""

    def line(raw: object) -> tuple[tuple[float, float], ...]:
        positions: tuple[tuple[float, float], ...] = _list_of(_position, kind)(raw)
        if len(positions) < LEAST_POSITIONS[kind]:
            raise _Unsound(
                f"a {kind} has {len(positions)} position(s) in a row; wanted at least "
                f"{LEAST_POSITIONS[kind]}"
            )
        if "Polygon" in kind and positions[0] != positions[-1]:
            raise _Unsound("a ring is open: repeat its first position at its end")
        return positions

    return line


def _position(raw: object) -> tuple[float, float]:
    if not isinstance(raw, list) or not 2 <= len(raw) <= 4:
        raise _Unsound(f"a position is {shown(raw)}; wanted [longitude, latitude] in degrees")
    for number in raw:
        if isinstance(number, bool) or not isinstance(number, int | float):
            raise _Unsound(f"a position holds {shown(number)}; wanted numbers")
        if isinstance(number, float) and not math.isfinite(number):
            raise _Unsound(f"a position holds {number}; wanted finite numbers")
    lon, lat = raw[0], raw[1]
    if abs(lon) <= 180 and abs(lat) <= 90:
        return float(lon), float(lat)
    if max(abs(lon), abs(lat)) > 360:
        hint = "these look like metres of a national grid: save it as WGS 84 (EPSG:4326)"
    elif abs(lon) <= 90 and abs(lat) <= 180:
        hint = "latitude and longitude look swapped: longitude comes first"
    else:
        hint = "wanted longitude -180 to 180, latitude -90 to 90"
    raise _Unsound(f"a position is longitude {shown(lon)}, latitude {shown(lat)}; {hint}")
