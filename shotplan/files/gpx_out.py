"""GPX 1.1, written: points as waypoints, lines and the outlines of areas as tracks.

`<ele>` (GPX: metres, without saying above what; readers take it as above sea level) is only given
to what is in the air or on the ground, in the terrain's own elevations, and `<cmt>` says so. A
height above the ground is never an `<ele>`. Lines of one `track` name are its segments; where they
are of several kinds its type is `flight`. `<sym>` is a name of a symbol: devices show it where they
know it, and their own pin where not. Routes are left out on purpose: devices offer to lead along
them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from shotplan.files.placed import Folder, Placed, degrees, sound, uncrossed

if TYPE_CHECKING:
    from gpxpy.gpx import GPXTrackSegment

ELE = "ele: elevation in metres above the terrain's own zero, not a height above ground or launch"
NO_ELE = "no ele: its height is in the description"
_NO_MAKER = re.compile(r"[^\w .+-]")


def write_gpx(
    name: str,
    words: str,
    folders: Sequence[Folder],
    *,
    creator: str,
    at: datetime,
    symbols: Mapping[str, str] = {},
) -> bytes:
    """The file; `at` is the moment it says it is of, `symbols` name a waypoint's by its kind."""
    from gpxpy.gpx import GPX

    gpx = GPX()
    gpx.creator = _NO_MAKER.sub("", creator)  # gpxpy writes it into the tag as it is
    gpx.name, gpx.description = sound(name), sound(words)
    gpx.time = at.astimezone(UTC)
    things = [thing for folder in uncrossed(folders) for thing in folder.things]
    gpx.waypoints = [_waypoint(t, symbols.get(t.kind)) for t in things if _is_point(t)]
    lines = [t for t in things if not _is_point(t)]
    named = dict.fromkeys(t.track or t.name for t in lines)
    gpx.tracks = [
        _track(title, [t for t in lines if (t.track or t.name) == title]) for title in named
    ]
    text: str = gpx.to_xml(version="1.1")
    return text.encode("utf-8") + b"\n"


def _is_point(thing: Placed) -> bool:
    return thing.shape == "point" or thing.centre is not None


def _waypoint(thing: Placed, symbol: str | None) -> Any:
    from gpxpy.gpx import GPXWaypoint

    where = thing.parts[0] if thing.centre is None else thing.centre[None]
    (lon, lat) = degrees(where)[0]
    ele = _elevations(thing, 0, 1)[0]
    return GPXWaypoint(
        lat,
        lon,
        ele,
        name=sound(thing.name),
        comment=NO_ELE if ele is None else ELE,
        description=sound(thing.words),
        symbol=symbol,
        type=thing.kind,
    )


def _track(title: str, lines: Sequence[Placed]) -> Any:
    from gpxpy.gpx import GPXTrack

    track: Any = GPXTrack(name=sound(title), description=sound("\n".join(t.words for t in lines)))
    track.segments = [_segment(t, i) for t in lines for i in range(len(t.parts))]
    has_ele = any(p.elevation is not None for s in track.segments for p in s.points)
    track.comment = ELE if has_ele else NO_ELE
    kinds = {t.kind for t in lines}
    track.type = kinds.pop() if len(kinds) == 1 else "flight"
    return track


def _segment(thing: Placed, index: int) -> GPXTrackSegment:
    from gpxpy.gpx import GPXTrackPoint, GPXTrackSegment

    part = thing.parts[index]
    if thing.shape == "area":
        part = np.concatenate([part, part[:1]])
    times: Iterable[datetime | None] = (t.astimezone(UTC) for t in thing.moments)
    if not thing.moments:
        times = [None] * len(part)
    heights = _elevations(thing, index, len(part))
    return GPXTrackSegment(
        [
            GPXTrackPoint(lat, lon, ele, time=time)
            for (lon, lat), ele, time in zip(degrees(part), heights, times, strict=True)
        ]
    )


def _elevations(thing: Placed, index: int, count: int) -> list[float | None]:
    """`<ele>` of each of `count` points, None where it has none."""
    known = thing.z_m[index] if thing.z_m else ()
    if thing.heights == "above the ground" or len(known) != count:
        return [None] * count
    return [round(float(z), 3) + 0.0 if np.isfinite(z) else None for z in known]
