"""Rise: straight up (or down) over a place, the camera on the rider.

"Pedestal" or "elevator" in the shot-type taxonomy of Mademlis et al., ACM Computing Surveys 52(5),
2019 (at second hand; its geometry from memory): travel along the vertical.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from shotplan.files.kinds import Height, Speed, Text
from shotplan.kernels.motion import setpoints
from shotplan.model.arrays import Array
from shotplan.model.flight import OneMoment, Stage, Wish
from shotplan.model.ride import Ride
from shotplan.model.settings import Setting


@dataclass(frozen=True, kw_only=True)
class Rise(OneMoment):
    """Over the place `at` from `height_m` to `to_height_m` at `speed_m_s`, from the first filmed
    sample on; then it stays. It sinks where `to_height_m` is the lower.

    It aims at the rider, but where it is does not depend on him. `height_over` as in the other
    styles, where "rider" means the ground under the place.
    """

    name: ClassVar[str] = "rise"
    flies: ClassVar[str] = "straight up or down over one place"
    word: ClassVar[str] = "rise"
    stands_at: ClassVar[str] = "at"

    at: Text
    height_m: Height
    to_height_m: Height
    speed_m_s: Speed
    height_over: setpoints.HeightOver = "rider"

    def __post_init__(self) -> None:
        """Check that it moves at all."""
        if self.to_height_m == self.height_m:
            raise ValueError(
                f"height_m and to_height_m are both {self.height_m:g}, so it does not rise: give "
                'another to_height_m, or style = "hold"'
            )

    def place(self, ride: Ride, stage: Stage) -> Wish:
        """Set points up the vertical; every ride meets the same height at the same time."""
        rider = ride.known_xyz_m
        foot, known = setpoints.at_place(stage.feet[self.at], rider)
        camera = stage.raised(
            foot[..., :2], self._height_m(ride.t_s), self.height_over, foot[..., 2]
        )
        return Wish.on_rider(camera, rider, follows=False, known=known)

    def places(self) -> tuple[str, ...]:
        """The place it goes up over."""
        return (self.at,)

    def words(self) -> str:
        """`rise at marker, from 2 m above it to 25 m, at 2 m/s`."""
        over = "it" if self.height_over == "rider" else setpoints.OVER_WORDS[self.height_over]
        return (
            f"{self.name} at {self.at}, from {self.height_m:g} m above {over} to "
            f"{self.to_height_m:g} m, at {self.speed_m_s:g} m/s"
        )

    def which(self) -> str:
        return self.at

    def settings(self) -> tuple[Setting, ...]:
        return (
            Setting.height(self.height_m, self.height_over, "its place"),
            Setting("to_height_m", "ends over", self.to_height_m, "up"),
            Setting("speed_m_s", "speed", self.speed_m_s, "fast"),
        )

    def _height_m(self, t_s: Array) -> Array:
        """`(n,)` above what `height_over` names."""
        way = self.to_height_m - self.height_m
        gone = np.clip(self.speed_m_s * t_s, 0.0, abs(way))
        return self.height_m + math.copysign(1.0, way) * gone
