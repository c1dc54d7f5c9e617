"""Flight zones: ED-269 (JSON) and ED-318 (GeoJSON) to plain records.

Structure of both standards from memory: ED-269 keeps a list `geometry` with a
`horizontalProjection` each; ED-318 is a FeatureCollection with `layer` and `extent` inside
`geometry`. Radii are metres, limits in `uom` or `uomDimensions` (M or FT).
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from shotplan.errors import Problems
from shotplan.files.disk import MEGABYTE, read_text
from shotplan.files.words import one_line, printable, shown
from shotplan.units import FOOT_M

LARGEST = 300 * MEGABYTE


@dataclass(frozen=True, kw_only=True)
class Volume:
    """`centre` and `radius_m` of a circle, else `polygons`, each of rings of (lon, lat). Limits in
    metres, None not said, above `AGL`, `AMSL` or what else the file says."""

    lower_m: float | None
    lower_from: str
    upper_m: float | None
    upper_from: str
    centre: tuple[float, float] | None = None
    radius_m: float = 0.0
    polygons: tuple[Any, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Time:
    """`begins`, `ends`: None open. `daily`: a schedule in words; "" always."""

    begins: datetime | None = None
    ends: datetime | None = None
    daily: str = ""


@dataclass(frozen=True, kw_only=True)
class Zone:
    """`restriction` in capitals as the standard has it; `asks` authority and contact in words."""

    id: str
    name: str
    country: str
    restriction: str
    message: str
    asks: str
    times: tuple[Time, ...]
    volumes: tuple[Volume, ...]


class _Unsound(Exception):
    """Why a zone cannot be used."""


def read_zone_file(path: Path, where: str, problems: Problems) -> tuple[Zone, ...] | None:
    """All zones; None where the file or any zone of it is unsound: a zone may not get lost."""
    text = read_text(path, LARGEST, where, problems)
    if text is None:
        return None
    try:
        raw = json.loads(text)
    except (ValueError, RecursionError) as error:
        problems.add(where, f"is not JSON: {one_line(str(error))}")
        return None
    members = raw.get("features") if isinstance(raw, dict) else None
    if not isinstance(members, list) or not members:
        problems.add(where, "holds no list of features; wanted zones as ED-269 or ED-318 JSON")
        return None
    zones, before = [], len(problems)
    for index, member in enumerate(members, start=1):
        try:
            zones.append(_zone(member, index))
        except (_Unsound, KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
            what = str(error) if isinstance(error, _Unsound) else f"not understood: {error!r}"
            name = _name_of(member)
            problems.add(f"{where}: feature {index}{name}", one_line(what))
    return None if len(problems) > before else tuple(zones)


def _name_of(member: object) -> str:
    inner = member.get("properties", member) if isinstance(member, dict) else None
    name = inner.get("identifier") if isinstance(inner, dict) else None
    return f" ({printable(name)})" if isinstance(name, str) else ""


def _zone(member: Mapping[str, Any], index: int) -> Zone:
    says = member.get("properties") or member
    geometry = member.get("geometry")
    if isinstance(geometry, Mapping):
        geometry = geometry.get("geometries") or [geometry]
    if not isinstance(geometry, list) or not geometry:
        raise _Unsound("has no geometry")
    limited = says.get("limitedApplicability") or says.get("applicability") or []
    return Zone(
        id=str(says.get("identifier") or f"zone {index}"),
        name=_text(says.get("name")),
        country=str(says.get("country") or "").upper(),
        restriction=str(says.get("type") if _old(says) else says.get("restriction")).upper(),
        message=". ".join(t for k in ("message", "restrictionConditions", "otherReasonInfo")
                          if (t := _text(says.get(k)))),
        asks="; ".join(t for a in says.get("zoneAuthority") or [] if (t := _authority(a))),
        times=tuple(_time(t) for t in limited),
        volumes=tuple(_volume(g) for g in geometry),
    )  # fmt: skip


def _old(says: Mapping[str, Any]) -> bool:
    """Some files hold the restriction under `type` alone."""
    return "restriction" not in says


def _text(raw: Any) -> str:
    """A text, or the first of texts in several languages, English before others."""
    if isinstance(raw, list):
        texts = [t for t in raw if t]
        english = [t for t in texts if isinstance(t, dict) and str(t.get("lang"))[:2] == "en"]
        return _text((english or texts or [""])[0]) if texts else ""
    if isinstance(raw, dict):
        return _text(raw.get("text"))
    return one_line(str(raw)) if raw is not None else ""


def _authority(raw: Mapping[str, Any]) -> str:
    keys = ("name", "service", "contactName", "phone", "email", "siteURL", "SiteURL")
    told = [t for k in keys if (t := _text(raw.get(k)))]
    before = [f"{raw['intervalBefore']} before"] if raw.get("intervalBefore") else []
    return ", ".join(told + before)


def _time(raw: Mapping[str, Any]) -> Time:
    if str(raw.get("permanent", "")).upper() == "YES":
        return Time()
    days = [
        f"{_text(s.get('day'))} {s.get('startTime', s.get('startEvent', ''))} to "
        f"{s.get('endTime', s.get('endEvent', ''))}"
        for s in raw.get("schedule") or []
    ]
    begins, ends = (_moment(raw.get(k)) for k in ("startDateTime", "endDateTime"))
    if begins and ends and ends < begins:
        raise _Unsound(f"ends {ends} before it begins {begins}")
    return Time(begins=begins, ends=ends, daily=one_line(", ".join(days)))


def _moment(raw: Any) -> datetime | None:
    if not raw:
        return None
    made = datetime.fromisoformat(str(raw))
    if made.tzinfo is None:
        raise _Unsound(f"time {shown(str(raw))} has no offset; wanted one, such as Z")
    return made


def _volume(raw: Mapping[str, Any]) -> Volume:
    layer = raw.get("layer") or raw
    unit = str(layer.get("uom") or layer.get("uomDimensions") or "M").upper()
    if unit not in ("M", "FT"):
        raise _Unsound(f"limits are in {shown(unit)}; wanted M or FT")
    lower, upper = (
        _limit(layer, names, unit) for names in (("lower", "lowerLimit"), ("upper", "upperLimit"))
    )
    refs = [
        str(layer.get(a) or layer.get(b) or "").upper()
        for a, b in (("lowerReference", "lowerVerticalReference"),
                     ("upperReference", "upperVerticalReference"))
    ]  # fmt: skip
    limits: dict[str, Any] = {
        "lower_m": lower,
        "lower_from": refs[0],
        "upper_m": upper,
        "upper_from": refs[1],
    }
    flat = raw.get("horizontalProjection") or raw
    extent = flat.get("extent") or {}
    if flat.get("type") == "Circle" or extent.get("subType") == "Circle":
        radius_m = _number(extent.get("radius", flat.get("radius")), "radius")
        if radius_m <= 0.0:
            raise _Unsound(f"radius is {radius_m:g}; a radius in metres is more than 0")
        centre = _place(flat.get("center") or flat.get("coordinates"))
        return Volume(**limits, centre=centre, radius_m=radius_m)
    several = flat.get("type") == "MultiPolygon"
    if not several and flat.get("type") != "Polygon":
        raise _Unsound(f"geometry is {shown(flat.get('type'))}; wanted Circle or Polygon")
    polygons = flat["coordinates"] if several else [flat["coordinates"]]
    return Volume(**limits, polygons=tuple(tuple(_ring(r) for r in p) for p in polygons))


def _limit(layer: Mapping[str, Any], names: tuple[str, str], unit: str) -> float | None:
    raw = next((layer[n] for n in names if layer.get(n) is not None), None)
    return None if raw is None else _number(raw, names[1]) * (FOOT_M if unit == "FT" else 1.0)


def _number(raw: Any, what: str) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not math.isfinite(raw):
        raise _Unsound(f"{what} is {shown(raw)}; wanted a number")
    return float(raw)


def _place(raw: Any) -> tuple[float, float]:
    lon, lat = _number(raw[0], "longitude"), _number(raw[1], "latitude")
    if abs(lon) > 180.0 or abs(lat) > 90.0:
        raise _Unsound(f"a place at longitude {lon:g}, latitude {lat:g}")
    return lon, lat


def _ring(raw: Any) -> tuple[tuple[float, float], ...]:
    ring = tuple(_place(p) for p in raw)
    if len(set(ring)) < 3:
        raise _Unsound(f"a ring of {len(set(ring))} places; wanted at least 3")
    return ring
