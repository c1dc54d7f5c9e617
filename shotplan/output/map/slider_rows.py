"""A shot sample by sample: what the slider under the map shows, and a tap on a track."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shotplan.judging.judged import Finding, ShotPlan
from shotplan.kernels.rides import runs
from shotplan.model.arrays import Array
from shotplan.model.frame import Frame
from shotplan.model.verdict import Verdict
from shotplan.output import measures, words
from shotplan.output.map.shapes import Numbered
from shotplan.output.watch.watched import says, watched
from shotplan.output.words import plain
from shotplan.scene import picture

MOST_ROWS = 1500  # of all shots together
LEAST_STEP = 2  # samples: a fifth of a second says enough
COLUMNS = (
    "t", "along", "east", "north", "rider_east", "rider_north", "azimuth", "tilt",
    "above_launch", "height", "surface", "away", "aim", "speed", "verdict", "blind",
    "seen", "nearest", "binds",
)  # fmt: skip


def block(shots: tuple[ShotPlan, ...], frame: Frame) -> dict[str, Any]:
    """All shots for the page's JSON. Positions are ten-millionths of a degree from `origin`,
    angles whole degrees, `verdict` an index into `verdicts`, `seen`, `nearest`, `binds` indices
    into the shot's `says`; `away` is the rider, `aim` what the camera is held on; null is not
    known. `fov` is the camera's across, `aspect` width over
    height."""
    share = MOST_ROWS // max(len(shots), 1)
    return {
        "columns": list(COLUMNS),
        "verdicts": [v.word for v in sorted(Verdict)],
        "origin": [_degrees(frame.lon_deg), _degrees(frame.lat_deg)],
        "shots": [_shot(shot, words.letter(i), share, frame) for i, shot in enumerate(shots)],
    }


def _shot(shot: ShotPlan, letter: str, most: int, frame: Frame) -> dict[str, Any]:
    scene, table = shot.scene, Numbered[str]()
    at = _kept(shot, most)
    track, ride = scene.track, scene.track.ride
    shown = picture.picture_of(scene)
    away = np.linalg.norm(picture.to_rider_m(scene), axis=-1)
    seen = watched(scene)
    columns = [
        _short(ride.t_s[at]),
        _short(ride.along_m[0, at]),
        *_offsets(frame, track.xyz_m[0, at, :2]),
        *_offsets(frame, ride.xyz_m[0, at, :2]),
        _whole(np.mod(np.degrees(track.camera_azimuth_rad[0, at]), 360.0)),
        _whole(np.degrees(shown.tilt_rad[at])),
        _short(scene.height_above_launch_m[0, at]),
        _short(scene.height_m[0, at]),
        _short(scene.surface_m[at]),
        _short(away[at]),
        _short(np.linalg.norm(shown.target_m[at], axis=-1)),
        _short(scene.speed_m_s[0, at]),
        [int(v) for v in shot.sample_verdict[at]],
        [int(b) for b in scene.blind[0, at]],
        [table.number(says(seen, i)) for i in at.tolist()],
        [table.number(_nearest(shot, i)) for i in at.tolist()],
        [table.number(_binds(shot, i)) for i in at.tolist()],
    ]
    camera = scene.aircraft.camera
    return {
        "letter": letter,
        "title": f"{letter}: {plain(scene.shot.name)}",
        "fov": round(math.degrees(camera.horizontal_fov_rad), 1),
        "aspect": round(camera.aspect, 3),
        "says": list(table),
        "rows": [list(row) for row in zip(*columns, strict=True)],
    }


def _kept(shot: ShotPlan, most: int) -> NDArray[np.intp]:
    """Evenly some of the samples, and all at which the verdict changes or a pin stands, so that
    thinning loses no tight place."""
    n = len(shot.sample_verdict)
    even = np.arange(0, n, max(LEAST_STEP, math.ceil(n / most)))
    changes = [low for low, _ in runs.runs(shot.sample_verdict)]
    spots = [f.told.at for f in shot.findings]
    pins = [at.sample for at in spots if at is not None and at.sample < n]
    found = np.concatenate([even, changes, np.array(pins, dtype=np.intp), [n - 1]])
    return np.unique(found).astype(np.intp)


def _degrees(value: float) -> float:
    return round(float(value), 7)


def _offsets(frame: Frame, xy_m: Array) -> tuple[list[int], list[int]]:
    origin = np.array([_degrees(frame.lon_deg), _degrees(frame.lat_deg)])
    away = np.round((frame.turned_deg(np.array(xy_m)) - origin) * 1e7).astype(int)
    return away[:, 0].tolist(), away[:, 1].tolist()


def _short(values: Array) -> list[float | None]:
    return [round(float(v), 1) + 0.0 if math.isfinite(v) else None for v in values]


def _whole(values: Array) -> list[int | None]:
    return [round(float(v)) if math.isfinite(v) else None for v in values]


def _nearest(shot: ShotPlan, i: int) -> str:
    """The nearest obstacle and how far away it is: from where the overrun reaches, where it flies
    blind."""
    found = shot.asked("clearance")
    if found is None or found.margins[i] == math.inf:
        return "nothing near"
    if math.isnan(found.values[i]):
        return "not known"
    unsure = " (as far as known)" if math.isnan(found.margins[i]) else ""
    thing = plain(str(found.things[i])) or "something"
    return f"{thing}, {_amount(found.values[i], found.unit)}{unsure}"


def _binds(shot: ShotPlan, i: int) -> str:
    """What decides at a sample, with its distance; where all is go, the nearest harm."""
    chosen = int(shot.sample_binding[i])
    if chosen < 0:
        harms = [f for f in shot.findings if f.family == "harm" and f.unit == "m"]
        if not harms:
            return "nothing"
        found = min(harms, key=lambda f: (float(np.nan_to_num(f.margins[i], nan=np.inf)), f.check))
        return f"{found.check}: {_against(found, i)}"
    found = shot.findings[chosen]
    if int(found.sample_codes[i]) < int(shot.sample_verdict[i]):
        return f"{found.check}, by the other rides; undisturbed {_against(found, i)}"
    unsure = math.isnan(found.margins[i]) and math.isfinite(found.values[i])
    return f"{found.check}: {'as far as known ' if unsure else ''}{_against(found, i)}"


def _against(found: Finding, i: int) -> str:
    """`0.6 m, needs 2.2 m, tree-07`."""
    value, limit = float(found.values[i]), float(found.limits[i])
    if math.isnan(value) and found.margins[i] == math.inf:
        return "nothing near"
    text = _amount(value, found.unit)
    if math.isfinite(limit):
        text += f", {measures.side(found)} {_amount(limit, found.unit)}"
    thing = plain(str(found.things[i]))
    return f"{text}, {thing}" if thing else text


def _amount(value: float, unit: str) -> str:
    return measures.amount(float(value) if math.isfinite(value) else None, unit)
