"""Orbit: a circle about a place, or about the rider."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product
from typing import ClassVar, Literal, get_args

import numpy as np

from shotplan.files.kinds import Azimuth, Distance, Height, Speed, Text
from shotplan.kernels.motion import setpoints
from shotplan.model.arrays import Array
from shotplan.model.flight import Stage, Style, Wish
from shotplan.model.ride import Ride
from shotplan.model.search import Search
from shotplan.model.settings import Setting

Turn = Literal["clockwise", "anticlockwise"]


@dataclass(frozen=True, kw_only=True)
class Orbit(Style):
    """A circle of `radius_m` about `around` (the id of a place, or "rider"), flown at
    `speed_m_s` along it, from bearing `start_deg` (from the centre) at the first filmed sample.

    Round a place it does not depend on the rider; round the rider the speed is relative to him.
    `height_over` as in the other styles, where "rider" means the ground under the centre.
    `aim`: the centre (a place with its own height) or the rider; round the rider they are one.
    """

    name: ClassVar[str] = "orbit"
    flies: ClassVar[str] = "in a circle"
    word: ClassVar[str] = "circle"

    around: Text
    radius_m: Distance
    height_m: Height
    speed_m_s: Speed
    direction: Turn
    start_deg: Azimuth = 0.0
    aim: Literal["centre", "rider"] = "centre"
    height_over: setpoints.HeightOver = "rider"

    def place(self, ride: Ride, stage: Stage) -> Wish:
        """Set points on the circle; every ride meets the same angle at the same time."""
        rider = ride.known_xyz_m
        centre, known = self._centre(rider, stage)
        xy = centre[..., :2] + self.radius_m * setpoints.unit(self._bearing_rad(ride.t_s))
        camera = stage.raised(xy, self.height_m, self.height_over, centre[..., 2])
        aim = setpoints.aim_at(rider)
        at_rider = self._round_rider or self.aim == "rider"
        if not at_rider:
            point = stage.places[self.around]
            z = np.where(np.isnan(point[2]), aim[..., 2], point[2])
            aim = np.stack([*np.broadcast_arrays(point[0], point[1], z)], axis=-1)
        return Wish(
            camera_xyz_m=camera.xyz_m,
            aim_xyz_m=aim,
            follows_rider=self._round_rider,
            aim_follows_rider=at_rider,
            known=camera.known & known,
        )

    def places(self) -> tuple[str, ...]:
        """The place it goes round."""
        return () if self._round_rider else (self.around,)

    def words(self) -> str:
        """`orbit round marker, clockwise from 180°, radius 25 m, 12 m above it, at 4 m/s`."""
        over = "it" if self.height_over == "rider" else setpoints.OVER_WORDS[self.height_over]
        aim = ", aiming at the rider" if not self._round_rider and self.aim == "rider" else ""
        return (
            f"{self.name} round {self.which()}, {self.direction} from {self.start_deg:g}°, "
            f"radius {self.radius_m:g} m, {self.height_m:g} m above {over}, "
            f"at {self.speed_m_s:g} m/s{aim}"
        )

    def which(self) -> str:
        return "the rider" if self._round_rider else self.around

    def numbers(self) -> str:
        """`clockwise 15 m, 6 m up, 3 m/s`."""
        return f"{self.direction} {super().numbers()}"

    def settings(self) -> tuple[Setting, ...]:
        centre = "rider" if self._round_rider else "its place"
        return (
            Setting.height(self.height_m, self.height_over, centre),
            Setting("radius_m", "radius", self.radius_m, "wide"),
            Setting("direction", "direction", self.direction),
            Setting("speed_m_s", "speed", self.speed_m_s, "fast"),
        )

    @classmethod
    def candidates(cls, search: Search) -> Iterator[Orbit]:
        """Round the rider and every place near, where the camera stays on the rider, who is what
        is filmed; every radius, height and speed, both ways round."""
        tries, centres = search.tries, ("rider", *search.places)
        ladders = (centres, tries.orbit_m, tries.orbit_heights_m, tries.orbit_m_s, get_args(Turn))
        for at, r, h, v, turn in product(*ladders):
            yield cls(around=at, radius_m=r, height_m=h, speed_m_s=v, direction=turn, aim="rider")

    def later(self, t_s: float) -> Orbit:
        """The same circle, begun where it is after `t_s`."""
        bearing = math.degrees(float(self._bearing_rad(np.array(t_s)))) % 360.0
        return replace(self, start_deg=round(bearing, 1) % 360.0)

    @property
    def _round_rider(self) -> bool:
        return self.around == "rider"

    def _bearing_rad(self, t_s: Array) -> Array:
        """`(n,)` from the centre to the set point."""
        turn = 1.0 if self.direction == "clockwise" else -1.0
        return math.radians(self.start_deg) + turn * self.speed_m_s / self.radius_m * t_s

    def _centre(self, rider_m: Array, stage: Stage) -> setpoints.SetPoints:
        """`(r, n, 3)` on the ground."""
        if self._round_rider:
            return setpoints.SetPoints(rider_m, np.ones(rider_m.shape[:-1], dtype=bool))
        return setpoints.at_place(stage.feet[self.around], rider_m)
