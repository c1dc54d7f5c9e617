"""GPX recordings: fixes whose ranges and counts are checked, for gpxpy checks neither."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.errors import Problems
from shotplan.files.disk import MEGABYTE, read_text
from shotplan.files.words import one_line, printable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gpxpy.gpx import GPX, GPXRoutePoint, GPXTrackPoint

LARGEST = 50 * MEGABYTE
HIGHEST_M = 9000.0  # no ground is higher, none lower than -500 m (general knowledge)
LOWEST_M = -500.0
FIRST_CIVIL_S = datetime(1990, 1, 1, tzinfo=UTC).timestamp()
_QUOTED = re.compile(r"'[^']*'|\"[^\"]*\"|<[^>]*>")
_PROLOGUE = re.compile(r"\s*(?:<\?.*?\?>|<!--.*?-->|\s)*", re.DOTALL)
_ROOT = re.compile(r"<([\w.-]+:)?gpx[\s>/]")
_TIME = re.compile(r"<(?:\w+:)?time\s*>([^<]*)<")


class Fixes(NamedTuple):
    """`(n,)` each, in the file's order; `elevation_m`, `time_s` (UTC seconds since 1970) are NaN
    where missing; `segment` counts from 0; `remarks` plain sentences about what was found."""

    lon_deg: NDArray[np.float64]
    lat_deg: NDArray[np.float64]
    elevation_m: NDArray[np.float64]
    time_s: NDArray[np.float64]
    segment: NDArray[np.intp]
    name: str
    remarks: tuple[str, ...] = ()


def read_gpx(path: Path, where: str, problems: Problems) -> Fixes | None:
    """The fixes of all tracks, else of all routes; None where unreadable (problems say why)."""
    text = read_text(path, LARGEST, where, problems)
    if text is None or not _looks_sound(text, where, problems):
        return None
    import gpxpy

    try:
        gpx = gpxpy.parse(text)
    except Exception as error:  # a parser of hostile text: whatever it raises, the file is refused
        problems.add(where, f"is not GPX: {_at_line(error) or type(error).__name__}")
        return None
    rows, name, remarks = _rows(gpx)
    fixes = Fixes(
        lon_deg=rows[:, 0],
        lat_deg=rows[:, 1],
        elevation_m=_elevations(rows[:, 2], remarks),
        time_s=rows[:, 3],
        segment=rows[:, 4].astype(np.intp),
        name=name,
        remarks=(*remarks, *_about_times(text, rows[:, 3])),
    )
    return fixes if _in_range(fixes, where, problems) else None


def _at_line(error: Exception) -> str:
    """What a parser says, without what it quotes of the file."""
    return _QUOTED.sub("…", one_line(str(error)))


def _looks_sound(text: str, where: str, problems: Problems) -> bool:
    """Refuse what is no GPX, and what makes an XML parser work for it, before it is parsed."""
    begin = text[_PROLOGUE.match(text).end() :][:200]  # type: ignore[union-attr]
    if re.match(r"<(!doctype html|html)", begin, re.IGNORECASE):
        problems.add(where, "is a web page, not a GPX file: download the file itself")
    elif "<!DOCTYPE" in text or "<!ENTITY" in text:
        problems.add(where, "has a DOCTYPE or ENTITY, which no GPX file needs: export it afresh")
    elif not _ROOT.match(begin):
        problems.add(where, "is not GPX: it does not begin with <gpx …>")
    else:
        return True
    return False


def _rows(gpx: GPX) -> tuple[NDArray[np.float64], str, list[str]]:
    """Fixes `(n, 5)` lon, lat, elevation, time, segment; the name; what there is to say."""
    remarks: list[str] = []
    lines: list[tuple[str | None, Sequence[GPXTrackPoint | GPXRoutePoint]]]
    lines = [(t.name, s.points) for t in gpx.tracks for s in t.segments if s.points]
    kind = "track segments"
    if not lines:
        lines = [(r.name, r.points) for r in gpx.routes if r.points]
        kind = "routes"
        if lines:
            remarks.append("it holds a route, not a recorded track")
    if len(lines) > 1:
        remarks.append(f"{len(lines)} {kind} joined in the order of the file")
    nan = float("nan")
    rows = [
        (
            p.longitude,
            p.latitude,
            nan if p.elevation is None else p.elevation,
            _epoch_s(p.time),
            float(i),
        )
        for i, (_, points) in enumerate(lines)
        for p in points
    ]
    if any(p.time and not p.time.tzinfo for _, points in lines for p in points):
        remarks.append("its times say no zone and are taken as UTC")
    name = next((n for n, _ in lines if n), None) or gpx.name or ""
    return np.array(rows, dtype=float).reshape(-1, 5), printable(name), remarks


def _epoch_s(time: datetime | None) -> float:
    """Seconds since 1970; NaN where missing or with an offset no zone has."""
    if time is None:
        return float("nan")
    try:
        return (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()
    except (ValueError, OverflowError):
        return float("nan")


def _elevations(elevation_m: NDArray[np.float64], remarks: list[str]) -> NDArray[np.float64]:
    """Elevations with those no ground has made NaN."""
    with np.errstate(invalid="ignore"):
        wrong = (elevation_m < LOWEST_M) | (elevation_m > HIGHEST_M)
    if wrong.any():
        remarks.append(f"{wrong.sum()} of its elevations cannot be right and count as missing")
    return np.where(wrong, np.nan, elevation_m)


def _about_times(text: str, time_s: NDArray[np.float64]) -> list[str]:
    """What is odd about the times of the fixes: written but unreadable, or before 1990."""
    remarks = []
    missing = np.isnan(time_s)
    unread = [t for t in _TIME.findall(text) if not _readable(t)] if missing.any() else []
    if unread:
        remarks.append(
            f'{len(unread)} of its times cannot be read, for example "{printable(unread[0])}", '
            "and count as missing"
        )
    old = int((time_s[~missing] < FIRST_CIVIL_S).sum())
    if old:
        remarks.append(
            f"{old} of its {int((~missing).sum())} times have dates before 1990, when no civil "
            "receiver recorded rides"
        )
    return remarks


def _readable(written: str) -> bool:
    from gpxpy.gpxfield import parse_time

    try:
        return parse_time(written) is not None
    except Exception:  # whatever it raises on hostile text, the time is not readable
        return False


def _in_range(fixes: Fixes, where: str, problems: Problems) -> bool:
    """Whether there are two fixes or more and all are on this earth."""
    count = len(fixes.lon_deg)
    if count < 2:
        problems.add(where, f"got {count} point(s) in tracks and routes; wanted at least 2")
        return False
    for word, values, most in (
        ("latitude", fixes.lat_deg, 90.0),
        ("longitude", fixes.lon_deg, 180.0),
    ):
        wrong = np.flatnonzero(~(np.abs(values) <= most))
        if len(wrong):
            problems.add(
                f"{where}: point {wrong[0] + 1}",
                f"{word} is {values[wrong[0]]:g}; wanted -{most:.0f} to {most:.0f}"
                + (f" ({len(wrong)} such points)" if len(wrong) > 1 else ""),
            )
            return False
    return True
