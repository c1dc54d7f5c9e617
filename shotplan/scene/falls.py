"""Falls from the flown track: where an aircraft that stops flying comes down."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.motion.fall import fall_to_ground
from shotplan.model.arrays import Array
from shotplan.scene.scene import Scene

TURNED_DEG = (-30.0, 0.0, 30.0)  # it veers off so far to either side
DRAG_COEFFICIENTS = (0.7, 1.0)  # of something tumbling
AREA_PER_SPAN2 = 0.1157  # m² met by the air for each m² of span squared
STEP_S = 0.1


class Drop(NamedTuple):
    """Landings of every case c at every sample: `xyz_m (n,c,3)`, `speed_m_s`, `time_s (n,c)`."""

    xyz_m: Array
    speed_m_s: Array
    time_s: Array

    def at(self, samples: NDArray[np.intp]) -> Drop:
        """Some of the samples."""
        return Drop(*(a[samples] for a in self))

    def beside(self, other: Drop) -> Drop:
        """The cases of both, of the same samples."""
        return Drop(*(np.concatenate(pair, axis=1) for pair in zip(self, other, strict=True)))

    def of_winds(self, which: Sequence[int]) -> Drop:
        """The cases of some of the winds asked for, in their order."""
        cases = len(TURNED_DEG) * len(DRAG_COEFFICIENTS)
        all_winds = np.arange(self.time_s.shape[1]).reshape(cases, -1)
        return Drop(*(a[:, all_winds[:, which].ravel()] for a in self))


def drag_area_m2(span_m: float, drag_coefficient: float) -> float:
    """C_d·A of a small multirotor by its span, an estimate: 0.0135 m² for 0.36 m at C_d 0.9."""
    return drag_coefficient * AREA_PER_SPAN2 * span_m**2


def gust_toward_m_s(scene: Scene) -> Array | None:
    """`(3,)` the gust as forecast, toward where it blows; None where speed or direction lack."""
    weather = scene.day.weather
    if weather.gust_m_s is None:
        return None
    speed = max(weather.gust_m_s, weather.wind_m_s or 0.0)
    if speed == 0.0:
        return np.zeros(3)
    return None if weather.wind_from_rad is None else speed * toward(weather.wind_from_rad)


def toward(from_rad: float) -> Array:
    """The level unit vector `(3,)` toward which a wind blows that comes from an azimuth."""
    return -np.array([math.sin(from_rad), math.cos(from_rad), 0.0])


def drop(scene: Scene, samples: NDArray[np.intp], winds: Sequence[Array]) -> Drop:
    """Fall from the undisturbed track: every turn, drag and wind."""
    track, craft = scene.track, scene.aircraft
    start, velocity = track.xyz_m[0, samples], track.velocity_m_s[0, samples]
    cases = []
    for turn in np.radians(TURNED_DEG):
        c, s = math.cos(turn), math.sin(turn)
        turned = velocity @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
        for coefficient in DRAG_COEFFICIENTS:
            area = np.full(len(start), drag_area_m2(craft.span_m, coefficient))
            cases += [(turned, area, np.broadcast_to(wind, start.shape)) for wind in winds]
    count = len(cases)
    landed = fall_to_ground(
        np.tile(start, (count, 1)),
        np.concatenate([v for v, _, _ in cases]),
        craft.mass_kg,
        np.concatenate([a for _, a, _ in cases]),
        np.concatenate([w for _, _, w in cases]),
        scene.site.terrain.ground_m,
        step_s=STEP_S,
    )
    return Drop(
        landed.xyz_m.reshape(count, -1, 3).swapaxes(0, 1),
        landed.speed_m_s.reshape(count, -1).T,
        landed.time_s.reshape(count, -1).T,
    )
