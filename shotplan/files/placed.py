"""What is put on a map, in any format: geometry in degrees, words, and values for machines."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Literal, NamedTuple

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
