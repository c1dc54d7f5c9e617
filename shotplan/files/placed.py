"""What is put on a map, in any format: geometry in degrees, words, and values for machines."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

DIGITS = 7  # of degrees: a centimetre
Value = str | float | int | None | Sequence[float]
_STEERING = {"Cc", "Cf", "Cs", "Zl", "Zp"}
_NO_CHARACTER = ("\ufffe", "\uffff")


class Placed(NamedTuple):
    """One thing on a map.

    `kind` says what it is in one word (its style in KML, its type in GPX). `parts` are a point
    `(1, 2)`, a line `(k, 2)`, or an area's outer ring and holes (not closed), longitude and
    latitude in degrees. `z_m`, one array `(k,)` a part, is metres as `heights` says, NaN unknown:
    "elevation" of a thing in the air, the elevation of the ground where it lies "on the ground",
    or "above the ground". `moments` when a line's points are reached. `words` may hold line ends.
    `values`: None and NaN are unknown. `track`: lines of the same name are one track in GPX.
    `centre (2,)`: where GPX, which has no areas, shows a small one as a point.
    """

    kind: str
    name: str
    words: str
    shape: Literal["point", "line", "area"]
    parts: tuple[NDArray[np.float64], ...]
    z_m: tuple[NDArray[np.float64], ...] = ()
    heights: Literal["elevation", "on the ground", "above the ground"] = "on the ground"
    values: Mapping[str, Value] = {}
    moments: tuple[datetime, ...] = ()
    track: str = ""
    centre: NDArray[np.float64] | None = None


class Folder(NamedTuple):
    """Things that are shown and hidden together."""

    name: str
    words: str
    things: tuple[Placed, ...]


def sound(text: str) -> str:
    """Text as every format takes it: what steers, halves of pairs and what XML 1.0 has no place
    for become `·`; line feeds stay."""
    return "".join("·" if _unfit(c) else c for c in text)


def _unfit(c: str) -> bool:
    return c != "\n" and (c in _NO_CHARACTER or unicodedata.category(c) in _STEERING)


def uncrossed(folders: Sequence[Folder]) -> tuple[Folder, ...]:
    """The same things, those across the 180th meridian in two or more, each on one side (RFC 7946,
    section 3.1.9): no program draws them round the world then."""
    return tuple(
        f._replace(things=tuple(half for thing in f.things for half in _halves(thing)))
        for f in folders
    )


def _halves(thing: Placed) -> tuple[Placed, ...]:
    lon = np.concatenate([part[:, 0] for part in thing.parts])
    if len(lon) < 2 or np.ptp(lon) <= 180.0:
        return (thing,)
    return _lines(thing) if thing.shape == "line" else _areas(thing)


def _lines(thing: Placed) -> tuple[Placed, ...]:
    """A line cut wherever it crosses, the point of crossing in both halves."""
    part, count = thing.parts[0], len(thing.parts[0])
    lon = part[:, 0] + 360.0 * (part[:, 0] < 0.0)
    west = lon < 180.0
    ends = [0, *(np.flatnonzero(west[1:] != west[:-1]) + 1), count]
    found = []
    for low, high in pairwise(ends):
        at = np.arange(low, high, dtype=float)
        if low > 0:
            at = np.r_[low - 1 + (180.0 - lon[low - 1]) / (lon[low] - lon[low - 1]), at]
        if high < count:
            at = np.r_[at, high - 1 + (180.0 - lon[high - 1]) / (lon[high] - lon[high - 1])]
        found.append(_resampled(thing, lon, at, west=bool(west[low])))
    return tuple(one for one in found if len(one.parts[0]) > 1)


def _resampled(
    thing: Placed, lon: NDArray[np.float64], at: NDArray[np.float64], *, west: bool
) -> Placed:
    """A line at the samples `at` (fractional), with all that is said of each of its points."""
    sample = np.arange(len(lon))

    def there(values: Any) -> NDArray[np.float64]:
        return np.asarray(np.interp(at, sample, np.asarray(values, dtype=float)))

    begun = thing.moments[0] if thing.moments else None
    since = [(m - thing.moments[0]).total_seconds() for m in thing.moments]
    return thing._replace(
        parts=(_one_side(there(lon), there(thing.parts[0][:, 1]), west=west),),
        z_m=tuple(there(z) if len(z) == len(lon) else z for z in thing.z_m),
        moments=tuple(begun + timedelta(seconds=float(s)) for s in there(since)) if begun else (),
        values={
            key: there(v).tolist() if isinstance(v, list) and len(v) == len(lon) else v
            for key, v in thing.values.items()
        },
    )


def _one_side(
    lon: NDArray[np.float64], lat: NDArray[np.float64], *, west: bool
) -> NDArray[np.float64]:
    """Positions up to the meridian from the west (at most 180), or from the east (from -180)."""
    return np.column_stack([np.minimum(lon, 180.0 - 10.0**-DIGITS) if west else lon - 360.0, lat])


def _areas(thing: Placed) -> tuple[Placed, ...]:
    """An area's rings clipped to each side (Sutherland and Hodgman 1974), heights with them."""
    heights = thing.z_m or tuple(np.empty(0) for _ in thing.parts)
    found = []
    for west in (True, False):
        rings = [_clipped(p, z, west=west) for p, z in zip(thing.parts, heights, strict=True)]
        if len(rings[0][0]) < 3:
            continue
        kept = [(p, z) for p, z in rings if len(p) >= 3]
        z_m = tuple(z for _, z in kept) if thing.z_m else ()
        found.append(thing._replace(parts=tuple(p for p, _ in kept), z_m=z_m))
    return tuple(found)


def _clipped(
    part: NDArray[np.float64], z_m: NDArray[np.float64], *, west: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    lon = part[:, 0] + 360.0 * (part[:, 0] < 0.0)
    has_z = len(z_m) == len(part)
    corners = np.column_stack([lon, part[:, 1], z_m if has_z else np.zeros(len(part))])
    inside = (lon < 180.0) == west
    found = []
    for k, corner in enumerate(corners):
        before = corners[k - 1]
        if inside[k] != inside[k - 1]:
            share = (180.0 - before[0]) / (corner[0] - before[0])
            found.append(before + share * (corner - before))
        if inside[k]:
            found.append(corner)
    made = np.array(found).reshape(-1, 3)
    return _one_side(made[:, 0], made[:, 1], west=west), made[:, 2] if has_z else z_m


def degrees(part: NDArray[np.float64]) -> list[tuple[float, float]]:
    """Longitude and latitude `(k, 2)` rounded to `DIGITS`, longitude -180 to below 180."""
    return [
        (round(-180.0 if lon >= 180.0 - 1e-8 else float(lon), DIGITS), round(float(lat), DIGITS))
        for lon, lat in part
    ]


def rounded(value: Value) -> str | float | int | list[float | None] | None:
    """A value for machines: three decimals, never -0.0, unknown None."""
    if value is None or isinstance(value, str | int):
        return sound(value) if isinstance(value, str) else value
    if isinstance(value, float):
        return round(value, 3) + 0.0 if math.isfinite(value) else None
    return [round(float(v), 3) + 0.0 if math.isfinite(v) else None for v in value]
