"""GPX recordings: fixes whose ranges and counts are checked, for gpxpy checks neither."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from shotplan.errors import Problems
from shotplan.files.fixes import NO_ZONE, Fixes, Waypoint, epoch_s, fixes_of, joined
from shotplan.files.xml_in import at_line, xml_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gpxpy.gpx import GPX, GPXRoutePoint, GPXTrackPoint

MOST_WAYPOINTS = 10_000
_TIME = re.compile(r"<(?:\w+:)?time\s*>([^<]*)<")


def read_gpx(path: Path, where: str, problems: Problems) -> Fixes | None:
    """The fixes of all tracks, else of all routes; None where unreadable (problems say why)."""
    text = xml_text(path, "gpx", "GPX", where, problems)
    gpx = None if text is None else _parsed(text, where, problems)
    if text is None or gpx is None:
        return None
    rows, name, remarks = _rows(gpx)
    missing = bool(np.isnan(rows[:, 3]).any())
    unread = [t for t in _TIME.findall(text) if not _readable(t)] if missing else []
    of = "tracks and routes"
    fixes = fixes_of(rows, name, remarks, where, problems, of=of, unread=unread)
    return None if fixes is None else fixes._replace(waypoints=_waypoints(gpx))


def _waypoints(gpx: GPX) -> tuple[Waypoint, ...]:
    return tuple(
        Waypoint(p.name, p.longitude, p.latitude)
        for p in gpx.waypoints[:MOST_WAYPOINTS]
        if p.name and abs(p.longitude) <= 180.0 and abs(p.latitude) <= 90.0
    )


def _parsed(text: str, where: str, problems: Problems) -> GPX | None:
    import gpxpy

    try:
        return gpxpy.parse(text)
    except Exception as error:  # a parser of hostile text: whatever it raises, the file is refused
        problems.add(where, f"is not GPX: {at_line(error) or type(error).__name__}")
        return None


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
    remarks += joined(len(lines), kind)
    nan = float("nan")
    rows = [
        (
            p.longitude,
            p.latitude,
            nan if p.elevation is None else p.elevation,
            epoch_s(p.time),
            float(i),
        )
        for i, (_, points) in enumerate(lines)
        for p in points
    ]
    if any(p.time and not p.time.tzinfo for _, points in lines for p in points):
        remarks.append(NO_ZONE)
    name = next((n for n, _ in lines if n), None) or gpx.name or ""
    return np.array(rows, dtype=float).reshape(-1, 5), name, remarks


def _readable(written: str) -> bool:
    from gpxpy.gpxfield import parse_time

    try:
        return parse_time(written) is not None
    except Exception:  # whatever it raises on hostile text, the time is not readable
        return False
