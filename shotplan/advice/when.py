"""When to go: the sun over a day or a span of days, and what it does to every shot.

The shots are flown once, as planned (the undisturbed ride); only the hour is turned.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import NamedTuple

import numpy as np

from shotplan.flying import stage_scene
from shotplan.kernels.light import light
from shotplan.kernels.rides.runs import runs
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.ride import STEP_S
from shotplan.outing import Outing
from shotplan.scene import sun, sunlight, timeline
from shotplan.scene.lightday import LightDay, ShotLight, SideSpan, Span
from shotplan.scene.picture import AIM_M, to_rider_m
from shotplan.scene.scene import Scene
from shotplan.scene.watching import watchers

STEP = timedelta(minutes=10)
COARSE_STEP = timedelta(minutes=30)  # for more than `MANY` days
MANY = 7
EVERY = 5  # samples of a shot, half a second
POINTS = 24  # of a shot at which direct sun is asked
SUNNY = 0.5  # of them in the sun: less has no side that the light comes from


class _Flown(NamedTuple):
    """One shot as flown: what no hour changes. `to_rider_m (m, 3)`; per watcher the way from eye
    to aircraft `(m, 3)` and the eye `(3,)` of the middle; points `(k, 3)` on the ride;
    `needs_lux` in the open for all of the aircraft's eyes."""

    scene: Scene
    to_rider_m: Array
    watched: dict[str, tuple[Array, Array]]
    points_m: Array
    needs_lux: float


def light_of(
    outing: Outing,
    first: date | None = None,
    days: int = 1,
    progress: Callable[[str], None] = lambda _: None,
) -> tuple[LightDay, ...]:
    """The light of `days` dates from `first` on (None: the day of start). `progress` is told each
    shot and date."""
    if first is None:
        first = outing.day.start.astimezone(outing.day.timezone).date()
    flown = []
    for shot in outing.shots:
        progress(shot.name)
        flown.append(_flown(stage_scene(outing, shot, outing.day.start)))
    step = STEP if days <= MANY else COARSE_STEP
    found = []
    for offset in range(days):
        on = first + timedelta(days=offset)
        progress(on.isoformat())
        found.append(_day(outing, flown, on, step))
    return tuple(found)


def _flown(scene: Scene) -> _Flown:
    some = slice(None, None, EVERY)
    track = scene.track
    watched = {
        w.person.name: (
            np.asarray((track.xyz_m[0] - w.eye_m)[some]),
            w.eye_m[len(w.eye_m) // 2],
        )
        for w in watchers(scene)
    }
    n = track.ride.t_s.size
    spots = np.unique(np.linspace(0, n - 1, POINTS).astype(int))
    needs = max(scene.aircraft.least_light_lux, default=0.0)
    if scene.under_trees[0].any():
        needs *= 2.0**light.UNDER_TREES_STOPS
    points = track.ride.xyz_m[0, spots] + np.array([0.0, 0.0, AIM_M])
    return _Flown(scene, to_rider_m(scene)[some], watched, points, needs)


def _day(outing: Outing, flown: Sequence[_Flown], on: date, step: timedelta) -> LightDay:
    zone, frame = outing.day.timezone, outing.site.frame
    today = sun.day(on, zone, frame.lon_deg, frame.lat_deg)
    moments = _moments(on, zone, step)
    azimuth, elevation = sun.position(moments, frame.lon_deg, frame.lat_deg)
    toward = light.toward(azimuth, elevation)
    at_noon = replace(outing.day, start=today.noon)
    flying = timeline.light_of(at_noon, outing.rules, frame)
    doubts: list[float] = []
    shots: list[ShotLight] = []
    for each in flown:
        ends = _bright(each, today, (flying.begins, flying.ends))
        shots.append(_shot(each, moments, toward, elevation, ends, doubts))
    mean = np.mean([s.sunny for s in shots], axis=0) if shots else np.zeros(len(moments))
    return LightDay(
        on=on,
        sun=today,
        golden=sunlight.golden(today, frame),
        flying=(flying.begins, flying.ends),
        flying_why=flying.why,
        moments=moments,
        elevation_rad=elevation,
        shots=tuple(shots),
        sunny=say.spans(moments, mean > SUNNY),
        doubt_m=min(doubts, default=float("inf")),
    )


def _moments(on: date, zone: tzinfo, step: timedelta) -> tuple[datetime, ...]:
    """From midnight to midnight of a local date, which may have 23 or 25 hours."""
    start, end = (
        datetime.combine(day, time(), tzinfo=zone).astimezone(UTC)
        for day in (on, on + timedelta(days=1))
    )
    return tuple((start + k * step).astimezone(zone) for k in range(int((end - start) / step) + 1))


def _bright(
    flown: _Flown, today: sun.SunDay, flying: tuple[datetime | None, datetime | None]
) -> tuple[datetime | None, datetime | None]:
    """When the pack's light and the light for the aircraft's eyes begin and end (None: not)."""
    frame = flown.scene.site.frame
    least_deg = light.elevation_deg(flown.needs_lux)
    begins, ends = sun.crossings(today.noon, least_deg, frame.lon_deg, frame.lat_deg)
    return (
        max((m for m in (flying[0], begins) if m is not None), default=None),
        min((m for m in (flying[1], ends) if m is not None), default=None),
    )


def _within(moments: Sequence[datetime], begins: datetime | None, ends: datetime | None) -> Bools:
    """Whether each moment lies between; with no begin or end it always does."""
    return np.array(
        [(begins is None or m >= begins) and (ends is None or m <= ends) for m in moments]
    )


def _shot(
    flown: _Flown,
    moments: Sequence[datetime],
    toward: Array,
    elevation_rad: Array,
    may: tuple[datetime | None, datetime | None],
    doubts: list[float],
) -> ShotLight:
    up = elevation_rad > 0.0
    sides = np.zeros((len(moments), len(light.SIDES)))
    for t in np.flatnonzero(up):
        which = light.side(flown.to_rider_m, np.broadcast_to(toward[t], flown.to_rider_m.shape))
        sides[t] = np.bincount(which, minlength=len(light.SIDES)) / len(which)
    sunny, known_m = _sunny(flown, toward, up)
    doubts.append(known_m)
    glare = {
        name: _glare_s(flown.scene, way, eye, toward, up)
        for name, (way, eye) in flown.watched.items()
    }
    dark = light.lux(elevation_rad) < flown.needs_lux
    lasts_s = float(np.ptp(flown.scene.track.ride.t_s))
    dazzles = np.any([g > 0.0 for g in glare.values()], axis=0) if glare else np.False_
    ends = None if may[1] is None else may[1] - timedelta(seconds=lasts_s)
    good = _within(moments, may[0], ends) & ~dark & ~dazzles
    windows = _trimmed(say.spans(moments, good), moments, may[0], ends)
    return ShotLight(
        name=flown.scene.shot.name,
        lasts_s=lasts_s,
        sides=sides,
        glare_s=glare,
        sunny=sunny,
        windows=windows,
        mostly=_mostly(moments, np.where((sunny > SUNNY)[:, None], sides, 0.0)),
    )


def _sunny(flown: _Flown, toward: Array, up: Bools) -> tuple[Array, float]:
    """Share `(t,)` of the shot's ride in direct sun, and how far the ground toward the sun is
    known at least (+inf: far enough)."""
    hours, count = np.flatnonzero(up), len(flown.points_m)
    share = np.zeros(len(toward))
    if not len(hours):
        return share, float("inf")
    points = np.tile(flown.points_m, (len(hours), 1))
    found = sunlight.direct(flown.scene.site, points, np.repeat(toward[hours], count, axis=0))
    share[hours] = np.nan_to_num(found.lit).reshape(len(hours), count).mean(axis=1)
    return share, float(found.known_m.min())


def _glare_s(scene: Scene, way_m: Array, eye_m: Array, toward: Array, up: Bools) -> Array:
    """Seconds `(t,)` of the shot one watcher looks within `light.GLARE_DEG` of the sun.

    Whether the ground hides the sun is asked for the eye of the middle of the shot.
    """
    seconds = np.zeros(len(toward))
    if not np.isfinite(eye_m).all():
        return np.full(len(toward), np.nan)
    hours = np.flatnonzero(up)
    eyes = np.broadcast_to(eye_m, (len(hours), 3))
    shines = sunlight.direct(scene.site, eyes, toward[hours], things=False).lit != 0.0
    for t in hours[shines]:
        near = light.angle_rad(way_m, np.broadcast_to(toward[t], way_m.shape))
        seconds[t] = np.count_nonzero(near < np.radians(light.GLARE_DEG)) * EVERY * STEP_S
    return seconds


def _mostly(moments: Sequence[datetime], sides: Array) -> tuple[SideSpan, ...]:
    """Runs of hours in which most of the shot is lit from one side; none without sun on it."""
    lead = np.where(sides.sum(axis=1) > 0.0, sides.argmax(axis=1), -1)
    return tuple(
        SideSpan(light.SIDES[int(lead[a])], (moments[a], moments[b - 1]))
        for a, b in runs(lead)
        if lead[a] >= 0
    )


def _trimmed(
    spans: Sequence[Span],
    moments: Sequence[datetime],
    begins: datetime | None,
    ends: datetime | None,
) -> tuple[Span, ...]:
    """Spans whose edge is the light's own begin or end, drawn out to it from the last step; those
    shorter than a step are left out."""
    step = moments[1] - moments[0]
    out = []
    for low, high in spans:
        start = begins if begins is not None and low - begins < step else low
        stop = ends if ends is not None and ends - high < step else high
        if high > low:
            out.append((start, stop))
    return tuple(out)
