"""A forecast as a table of hours: CSV, TSV or JSON, whatever its columns are called.

The unit of each column stands in its head (`wind (km/h)`, `gust_kn`, `temperature [°F]`; in JSON
also beside it, `hourly_units`): a column without one is refused, for no number says which it is.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from shotplan.errors import Problems
from shotplan.files.columns import (
    Columns,
    folded,
    is_number,
    json_table,
    moment_of,
    named,
    table_of,
    unit_in,
)
from shotplan.files.disk import MEGABYTE, read_text
from shotplan.files.words import printable, shown
from shotplan.units import FOOT_M, KMH_M_S, KNOT_M_S, MILE_M, MPH_M_S

LARGEST = 5 * MEGABYTE
YEARS = range(2000, 2101)
_SPEEDS = {"ms": 1.0, "kmh": KMH_M_S, "kph": KMH_M_S, "mph": MPH_M_S, "mih": MPH_M_S,
           "kn": KNOT_M_S, "kt": KNOT_M_S, "kts": KNOT_M_S, "knots": KNOT_M_S}  # fmt: skip
_LENGTHS = {"m": 1.0, "km": 1000.0, "mi": MILE_M, "miles": MILE_M, "sm": MILE_M, "ft": FOOT_M}
_WARMTHS = {"c": 1.0, "degc": 1.0, "celsius": 1.0, "f": 5.0 / 9.0, "degf": 5.0 / 9.0,
            "fahrenheit": 5.0 / 9.0}  # fmt: skip
_ANGLES = {"": 1.0, "deg": 1.0, "degrees": 1.0, "°": 1.0, "degtrue": 1.0}
_POINTS = ("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW",
           "NW", "NNW")  # fmt: skip
_TIME = ("time", "timeutc", "datetime", "utc", "timestamp", "timehour", "dt", "hour", "validtime",
         "date", "moment", "at", "forecasttime", "datetimeutc")  # fmt: skip


class _Kind(NamedTuple):
    """A column: its names (a unit may follow), its units, and between what it lies."""

    names: tuple[str, ...]
    units: Mapping[str, float]
    least: float
    most: float
    example: str


_KINDS = {
    "wind_m_s": _Kind(("wind", "windspeed", "windspeed10m", "meanwind", "wspd", "ff"),
                      _SPEEDS, 0.0, 100.0, "wind (km/h)"),
    "gust_m_s": _Kind(("gust", "gusts", "windgust", "windgusts", "windgusts10m", "windgust10m",
                       "gustspeed", "wgst", "fx"), _SPEEDS, 0.0, 120.0, "gust (km/h)"),
    "wind_from_deg": _Kind(("winddir", "winddirection", "winddirection10m", "direction", "dir",
                            "windfrom", "wdir", "dd"), _ANGLES, 0.0, 360.0, "wind_dir"),
    "temperature_c": _Kind(("temperature", "temp", "temperature2m", "airtemperature"),
                           _WARMTHS, -90.0, 60.0, "temperature (°C)"),
    "visibility_m": _Kind(("visibility", "visib", "vis"), _LENGTHS, 0.0, 1e6, "visibility (km)"),
}  # fmt: skip


class Hour(NamedTuple):
    """What is said of one moment; None where nothing is."""

    at: datetime
    wind_m_s: float | None = None
    gust_m_s: float | None = None
    wind_from_deg: float | None = None
    temperature_c: float | None = None
    visibility_m: float | None = None


class Forecast(NamedTuple):
    """Hours in their order, each once; `remarks` about what was found."""

    hours: tuple[Hour, ...]
    remarks: tuple[str, ...] = ()

    def near(self, moment: datetime) -> Hour | None:
        """The hour next to a moment; None where it lies more than a step of the table off (an hour
        where it has one only, three at most)."""
        steps = sorted(b.at - a.at for a, b in pairwise(self.hours))
        step = min(steps[len(steps) // 2] if steps else timedelta(hours=1), timedelta(hours=3))
        hour = min(self.hours, key=lambda h: abs(h.at - moment))
        return hour if abs(hour.at - moment) <= step else None


def read_forecast(path: Path, where: str, problems: Problems) -> Forecast | None:
    """The hours of a forecast; None where unreadable (problems say all of it)."""
    text = read_text(path, LARGEST, where, problems)
    if text is None:
        return None
    is_json = text.lstrip()[:1] in ("{", "[")
    table = (json_table if is_json else table_of)(text, where, problems)
    if table is None:
        return None
    before = len(problems)
    moments = _moments(table, _offset(text) if is_json else None, where, problems)
    columns = {key: _column(table, kind, where, problems) for key, kind in _KINDS.items()}
    nothing = all(column is None for key, column in columns.items() if key != "wind_from_deg")
    if nothing and len(problems) == before:
        problems.add(
            where,
            f"has the columns {named(table.heads)}; wanted one called wind (km/h), and gust, "
            "wind_dir, temperature, visibility where they are known",
        )
    if len(problems) > before or moments is None:
        return None
    known = {key: column for key, column in columns.items() if column is not None}
    hours = sorted(
        (Hour(at=at, **{key: column[k] for key, column in known.items()})
         for k, at in enumerate(moments)), key=lambda h: h.at
    )  # fmt: skip
    return _once_each(hours, where, problems)


def _once_each(hours: Sequence[Hour], where: str, problems: Problems) -> Forecast | None:
    for one, other in pairwise(hours):
        if one.at == other.at and one != other:
            problems.add(where, f"says two things of {one.at.isoformat()}: keep one place and one "
                         "forecast")  # fmt: skip
            return None
    if not hours:
        problems.add(where, "holds no hours")
        return None
    kept = list(dict.fromkeys(hours))
    odd = [h.gust_m_s is not None and h.wind_m_s is not None and h.gust_m_s < h.wind_m_s
           for h in kept]  # fmt: skip
    said = f"{sum(odd)} of its gusts are less than the wind and count as unknown"
    sound = tuple(h._replace(gust_m_s=None) if no else h for h, no in zip(kept, odd, strict=True))
    return Forecast(sound, (said,) if any(odd) else ())


def _moments(
    table: Columns, offset: timezone | None, where: str, problems: Problems
) -> list[datetime] | None:
    column = table.find(_TIME)
    if column is None:
        problems.add(where, f"has the columns {named(table.heads)}; wanted one called time")
        return None
    head = table.heads[column]
    zone = UTC if re.search(r"utc|gmt|zulu", head, re.IGNORECASE) else offset
    found = []
    for row, cell in enumerate(table.cells[column], start=1):
        at = moment_of(cell)
        if at is not None and at.tzinfo is None and zone is not None:
            at = at.replace(tzinfo=zone)
        if at is None or at.tzinfo is None:
            what = "cannot be read as a time" if at is None else "says no zone"
            problems.add(f"{where}: row {row}", f"{shown(cell)} {what}; wanted for example "
                         "2026-06-20T20:00Z or +01:00, or the column called time_utc")  # fmt: skip
            return None
        if at.year not in YEARS:
            problems.add(f"{where}: row {row}", f"got the year {at.year}; wanted 2000 to 2100")
            return None
        found.append(at)
    return found


def _offset(text: str) -> timezone | None:
    """The offset a JSON says for all its times."""
    found = re.search(r'"utc_offset_seconds"\s*:\s*(-?\d{1,5})\b', text)
    offset = timedelta(seconds=int(found[1])) if found else None
    return timezone(offset) if offset is not None and abs(offset) < timedelta(days=1) else None


def _column(
    table: Columns, kind: _Kind, where: str, problems: Problems
) -> list[float | None] | None:
    """A column's values in the unit they are kept in; None where there is no such column."""
    for name in kind.names:
        for index, head in enumerate(table.heads):
            unit = _unit_of(head, name, kind.units)
            if unit is None:
                continue
            if unit not in kind.units:
                problems.add(f"{where}: {printable(head)}", "does not say its unit, or not one "
                             f"known here: write it behind, as {kind.example}")  # fmt: skip
                return None
            return _values(table, index, kind, unit, where, problems)
    return None


def _unit_of(head: str, name: str, units: Mapping[str, float]) -> str | None:
    """The unit a head says for the column `name`: "" none, None where it is another column."""
    bracket = unit_in(head)
    bare = folded(head.replace(f"[{bracket}]", "").replace(f"({bracket})", ""))
    if bare == name:
        return folded(bracket)
    rest = bare.removeprefix(name)
    return rest if rest != bare and rest in units else None


def _values(
    table: Columns, index: int, kind: _Kind, unit: str, where: str, problems: Problems
) -> list[float | None] | None:
    found: list[float | None] = []
    for row, cell in enumerate(table.cells[index], start=1):
        value = _value(cell, kind, unit)
        if value is not None and not kind.least <= value <= kind.most:
            problems.add(f"{where}: row {row}: {printable(table.heads[index])}",
                         f"got {shown(cell)}, which cannot be: look at its unit, and leave what is "
                         "not known empty")  # fmt: skip
            return None
        found.append(value)
    return found


def _value(cell: str, kind: _Kind, unit: str) -> float | None:
    if kind.units is _ANGLES and cell.strip().upper() in _POINTS:
        return 22.5 * _POINTS.index(cell.strip().upper())
    if not is_number(cell) or float(cell) != float(cell):
        return None
    shift = 32.0 if kind.units is _WARMTHS and kind.units[unit] != 1.0 else 0.0
    return (float(cell) - shift) * kind.units[unit]
