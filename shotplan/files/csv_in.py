"""CSV recordings, whatever their columns are called and whatever separates them."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from shotplan.errors import Problems
from shotplan.files.columns import (
    Columns,
    folded,
    is_number,
    moment_of,
    named,
    table_of,
    unit_in,
)
from shotplan.files.disk import MEGABYTE, read_text
from shotplan.files.fixes import NO_ZONE, Fixes, epoch_s, fixes_of
from shotplan.units import FOOT_M

LARGEST = 50 * MEGABYTE
LON = ("lon", "lng", "longitude", "long", "positionlong", "longitudedeg", "londeg", "gpslon",
       "gpslongitude", "longitudedegrees", "x")  # fmt: skip
LAT = ("lat", "latitude", "positionlat", "latitudedeg", "latdeg", "gpslat", "gpslatitude",
       "latitudedegrees", "y")  # fmt: skip
TIME = ("time", "timestamp", "datetime", "timeutc", "utc", "utctime", "when", "date", "t",
        "gpstime", "epoch", "epochs", "epochms", "times", "timems", "timestampms", "unixtime",
        "unix")  # fmt: skip
ELEVATION = ("ele", "elevation", "alt", "altitude", "elevationm", "altitudem", "altm", "elem",
             "gpsaltitude", "height", "heightm", "z", "elevationft", "altitudeft", "altft",
             "eleft")  # fmt: skip


def read_csv(path: Path, where: str, problems: Problems) -> Fixes | None:
    """The rows that have a place; None where unreadable (problems say why)."""
    text = read_text(path, LARGEST, where, problems)
    table = None if text is None else table_of(text, where, problems)
    if table is None:
        return None
    lon, lat = table.find(LON), table.find(LAT)
    if lon is None or lat is None:
        problems.add(
            where,
            f"has the columns {named(table.heads)}; wanted one called lon or longitude and one "
            "called lat or latitude, in degrees",
        )
        return None
    remarks: list[str] = []
    lons, lats = (_numbers(table.cells[column]) for column in (lon, lat))
    placed = np.isfinite(lons) & np.isfinite(lats)
    empty = np.array([not (a or b) for a, b in zip(table.cells[lon], table.cells[lat],
                                                   strict=True)], dtype=bool)  # fmt: skip
    if empty.any():
        remarks.append(f"{int(empty.sum())} of its rows have no place and are left out")
    broken = np.flatnonzero(~placed & ~empty)
    if len(broken):
        problems.add(f"{where}: row {broken[0] + 1}", "longitude or latitude is not a number")
        return None
    times, unread = _times(table, remarks)
    rows = np.column_stack([lons, lats, _elevations(table), times, np.zeros(len(lons))])
    of = "rows"
    return fixes_of(rows[placed], "", remarks, where, problems, of=of, unread=unread)


def _numbers(cells: tuple[str, ...]) -> NDArray[np.float64]:
    return np.array([float(c) if is_number(c) else np.nan for c in cells], dtype=float)


def _elevations(table: Columns) -> NDArray[np.float64]:
    column = table.find(ELEVATION)
    if column is None:
        return np.full(len(table.cells[0]), np.nan)
    head = table.heads[column]
    feet = unit_in(head).casefold() in ("ft", "feet") or folded(head).endswith("ft")
    return _numbers(table.cells[column]) * (FOOT_M if feet else 1.0)


def _times(table: Columns, remarks: list[str]) -> tuple[NDArray[np.float64], list[str]]:
    """Seconds since 1970, NaN missing; what is written and cannot be read."""
    column = table.find(TIME)
    if column is None:
        return np.full(len(table.cells[0]), np.nan), []
    cells = list(table.cells[column])
    day = table.find(("date", "day"))
    if day not in (None, column) and all(re.match(r"\d\d?:\d\d", c) for c in cells if c):
        assert day is not None
        cells = [f"{d} {c}" if c else "" for d, c in zip(table.cells[day], cells, strict=True)]
    moments = [moment_of(c) for c in cells]
    if any(m is not None and m.tzinfo is None for m in moments):
        remarks.append(NO_ZONE)
    unread = [c for c, m in zip(cells, moments, strict=True) if c and m is None]
    return np.array([epoch_s(m) for m in moments], dtype=float), unread
