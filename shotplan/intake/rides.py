"""The ride of a site to start: recorded, drawn, or a line to be replaced."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from shotplan.errors import Problems
from shotplan.files.fixes import FIRST_CIVIL_S, Fixes
from shotplan.files.geojson import Feature
from shotplan.files.raster import open_raster
from shotplan.files.recording import read_recording
from shotplan.files.words import listed, shown
from shotplan.intake import waypoints
from shotplan.intake.drawing import PLACEHOLDER
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame, lonlat_of

if TYPE_CHECKING:
    from shotplan.intake.new import Given

PLACEHOLDER_DEG = ((0.0, 0.0), (0.0018, 0.0))  # 200 m of open sea: it is nobody's ride


class Ride(NamedTuple):
    """`path` as [ride] names it; `lonlat_deg (k, 2)`; whether it needs a speed; when it began;
    features `marked` on the way, and what is said of them."""

    path: str | list[str]
    lonlat_deg: Array
    timed: bool
    began: datetime | None
    drawn: bool = False
    marked: tuple[dict[str, Any], ...] = ()
    said: tuple[str, ...] = ()


def ride_of(
    given: Given, features: tuple[Feature, ...], copies: Mapping[Path, str], problems: Problems
) -> Ride | None:
    """The recording, else the line that is drawn, else a line to be replaced."""
    if given.ride is not None:
        return _recordings(given, (given.ride, *given.more_rides), copies, problems)
    lines = [f for f in features if f.properties.get("role") == "ride"]
    if len(lines) > 1:
        names = listed((f.id for f in lines), "and")
        problems.add("--ground", f"draws more than one ride, {names}: leave the one to be filmed")
        return None
    if lines and lines[0].geometry_type != "LineString":
        problems.add(
            f"--ground: {lines[0].label}",
            f"a ride is drawn as a {shown(lines[0].geometry_type)}; wanted a LineString",
        )
        return None
    if lines:
        lonlat = np.array(lines[0].coordinates, dtype=float)
        return Ride(lines[0].id, lonlat, False, None, drawn=True)
    without = {"--ground": given.ground, **given.surveys.options}
    for option, path in without.items():
        if path is not None:
            problems.add(option, "is given and no ride: give --ride, or draw a line with role ride "
                         "in a --ground")  # fmt: skip
            return None
    if given.terrain is not None:
        return _in_the_middle(given.terrain)
    return Ride(PLACEHOLDER, np.array(PLACEHOLDER_DEG), False, None)


def _in_the_middle(terrain: Path) -> Ride | None:
    """A line to be replaced, where the raster is; None where that cannot be read."""
    info = open_raster(terrain, "--terrain", Problems())
    if info is None:
        return None
    a, b, c, d, e, f = info.affine
    row, col = 0.5 * info.rows, 0.5 * info.cols
    lon, lat = lonlat_of(info.wkt, a * col + b * row + c, d * col + e * row + f)
    ends = Frame(lon_deg=lon, lat_deg=lat).lonlat_deg(np.array([[-100.0, 0.0], [100.0, 0.0]]))
    return Ride(PLACEHOLDER, ends, False, None)


def _recordings(
    given: Given, paths: Sequence[Path], copies: Mapping[Path, str], problems: Problems
) -> Ride | None:
    """One recording or several of one ride; what was marked on the way where nothing is drawn."""
    read = [read_recording(path, "--ride", problems) for path in paths]
    found = [fixes for fixes in read if fixes is not None]
    if len(found) < len(read):
        return None
    names = [copies[path] for path in paths]
    lonlat = found[0].lonlat_deg
    timed = any(not bool(np.isnan(fixes.time_s).any()) for fixes in found)
    began = next((b for fixes in found if (b := _recorded(fixes))), None)
    marks = [mark for fixes in found for mark in fixes.waypoints]
    day = began.date() if began else None
    marked, said = waypoints.features_of(marks, lonlat, day)
    if given.ground is not None and marked:
        marked, said = [], ["waypoints are not taken beside --ground: draw them there"]
    path = names[0] if len(names) == 1 else names
    return Ride(path, lonlat, timed, began, marked=tuple(marked), said=tuple(said))


def _recorded(fixes: Fixes) -> datetime | None:
    """When the recording began, in UTC; None where no credible time is in it."""
    known = fixes.time_s[fixes.time_s >= FIRST_CIVIL_S]
    return datetime.fromtimestamp(int(known[0]), UTC) if len(known) else None


def named_rides(given: Given) -> Iterator[tuple[Path, str]]:
    """The recordings and the forecast, each with the stem of its name in the folder."""
    if given.ride is not None:
        yield given.ride, "ride"
    for number, path in enumerate(given.more_rides, start=2):
        yield path, f"ride-{number}"
    if given.forecast is not None:
        yield given.forecast, "forecast"
