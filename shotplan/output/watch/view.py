"""One watcher and one shot: where to look, when, for how long it is not seen, where the sun is."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from shotplan.aids import skyline
from shotplan.aids.skyline import Around, nearest_turn
from shotplan.judging.judged import ShotPlan
from shotplan.kernels.light.light import GLARE_DEG, angle_rad
from shotplan.kernels.rides.runs import runs
from shotplan.model.arrays import Array
from shotplan.model.day import Person
from shotplan.model.ride import STEP_S
from shotplan.output.watch.watched import Sight, Watched, watched
from shotplan.output.words import plain
from shotplan.scene import sunlight

STEPS_S = (1, 2, 3, 5, 10, 15, 20, 30, 60, 120, 300, 600)
MOST_TICKS = 7
SHORT_S = 0.3  # a view lost for less is not told
PIXELS = 2.0  # of the panorama's picture for one of the page
BESIDE_DEG, LEAST_WIDE_DEG = 8.0, 50.0
UNDER_DEG, OVER_DEG = 4.0, 6.0  # the track
LOWEST_DEG, HIGHEST_DEG = -5.0, 12.0  # what is always shown
LEAST_HIGH = 100.0  # pixels of the page


class Gap(NamedTuple):
    """Samples `low` to `high` (one past it) at which it is not seen, or not known to be."""

    low: int
    high: int
    sight: Sight
    by: str

    @property
    def seconds(self) -> float:
        """How long."""
        return (self.high - self.low) * STEP_S


class Sun(NamedTuple):
    """At the shot's middle. `shines` in that eye (not behind known ground); `dazzles (n,)` where
    one looks within 25° of it."""

    azimuth_rad: float
    elevation_rad: float
    shines: bool
    dazzles: Array


class Looked(NamedTuple):
    """`azimuth_rad` (about the window's middle, NaN where it leaves it on one side for the other),
    `elevation_rad (n,)` of the aircraft; `ticks` samples to point at, `gaps`, `zero_rad` the
    bearing where it begins; `around` what is seen over the window."""

    shot: ShotPlan
    letter: str
    person: Person
    place: str
    seen: Watched
    azimuth_rad: Array
    elevation_rad: Array
    zero_rad: float
    ticks: tuple[int, ...]
    gaps: tuple[Gap, ...]
    sun: Sun
    around: Around


def looked(shot: ShotPlan, letter: str, person: Person, wide: float, high: float) -> Looked | None:
    """For a window of a page `wide` and at most `high` pixels; None where it is not known where
    they stand."""
    scene = shot.scene
    place = scene.stand_of(person)
    if place is None or not np.isfinite(place.xyz_m).all():
        return None
    eye = place.xyz_m + np.array([0.0, 0.0, person.eye_m])
    azimuth, elevation = skyline.toward(eye, scene.track.xyz_m[0])
    window = _window(np.unwrap(azimuth), elevation, wide, high)
    middle = float(window[0].mean())
    turned = nearest_turn(azimuth, middle)
    turned[1:][np.abs(np.diff(turned)) > math.pi] = np.nan
    name = plain(person.name)
    seen = next(w for w in watched(scene) if w.who == name and (w.eye_m[0] == eye).all())
    return Looked(
        shot=shot,
        letter=letter,
        person=person,
        place=plain(place.label),
        seen=seen,
        azimuth_rad=turned,
        elevation_rad=elevation,
        zero_rad=float(nearest_turn(azimuth[:1], middle)[0]),
        ticks=_ticks(scene.track.ride.t_s),
        gaps=_gaps(seen),
        sun=_sun(shot, eye),
        around=skyline.around(scene.site, eye, *window),
    )


def _window(azimuth: Array, elevation: Array, wide: float, high: float) -> tuple[Array, Array]:
    """Azimuths and elevations of the picture's columns and rows, a degree as wide as it is high."""
    left, right = np.degrees([azimuth.min(), azimuth.max()])
    low = min(float(np.degrees(elevation.min())) - UNDER_DEG, LOWEST_DEG)
    top = min(max(float(np.degrees(elevation.max())) + OVER_DEG, HIGHEST_DEG), 90.0)
    span = max(right - left + 2.0 * BESIDE_DEG, LEAST_WIDE_DEG, wide * (top - low) / high)
    span = min(span, 360.0)
    middle = 0.5 * (left + right)
    per_degree = wide / span
    top = min(max(top, low + LEAST_HIGH / per_degree), 90.0)
    cols, rows = round(PIXELS * wide), round(PIXELS * per_degree * (top - low))
    at = middle + ((np.arange(cols) + 0.5) / cols - 0.5) * span
    up = top - (np.arange(rows) + 0.5) / rows * (top - low)
    return np.radians(at), np.radians(up)


def _ticks(t_s: Array) -> tuple[int, ...]:
    """Samples at whole steps of seconds, few enough to be told; the last sample too, unless it
    comes right after one."""
    lasts = float(t_s[-1] - t_s[0])
    step = next((s for s in STEPS_S if lasts / s <= MOST_TICKS - 1), STEPS_S[-1])
    per = round(step / STEP_S)
    found = list(range(0, len(t_s), per))
    if len(t_s) - 1 - found[-1] > 0.5 * per:
        found.append(len(t_s) - 1)
    return tuple(found)


def _gaps(seen: Watched) -> tuple[Gap, ...]:
    found = []
    for low, high in runs(seen.sight):
        sight = Sight(int(seen.sight[low]))
        if sight == Sight.SEEN or (high - low) * STEP_S < SHORT_S - 1e-9:
            continue
        by = dict.fromkeys(str(b) for b in seen.cut_by[low:high] if b)
        found.append(Gap(low, high, sight, " and ".join(by) if sight == Sight.HIDDEN else ""))
    return tuple(found)


def _sun(shot: ShotPlan, eye_m: Array) -> Sun:
    scene = shot.scene
    middle = len(scene.track.ride.t_s) // 2
    azimuth, elevation = (float(a[middle]) for a in scene.sun_rad)
    eyes = np.broadcast_to(eye_m, scene.toward_sun.shape)
    lit = ~(sunlight.direct(scene.site, eyes, scene.toward_sun, things=False).lit == 0.0)
    off = angle_rad(scene.track.xyz_m[0] - eye_m, scene.toward_sun)
    return Sun(azimuth, elevation, bool(lit[middle]), lit & (off < math.radians(GLARE_DEG)))
