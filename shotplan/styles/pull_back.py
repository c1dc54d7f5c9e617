"""Pull-back: away from the rider along the line of sight, or toward him.

"Pull-back" and "approach" (a dolly along the optical axis) in the shot-type taxonomy of Mademlis et
al., ACM Computing Surveys 52(5), 2019 (at second hand; its geometry from memory); here in the
rider's own frame, so it goes with him meanwhile.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np

from shotplan.files.kinds import Distance, Height
from shotplan.kernels.motion import setpoints
from shotplan.model.arrays import Array
from shotplan.model.flight import OneMoment, Stage, Wish
from shotplan.model.ride import STEP_S, Ride
from shotplan.model.settings import Setting

SIDES = {"ahead": 0.0, "behind": math.pi, **setpoints.ABEAM}
SIDE_WORDS = {
    "ahead": "ahead of the rider",
    "behind": "behind the rider",
    "left": "on his left",
    "right": "on his right",
}


@dataclass(frozen=True, kw_only=True)
class PullBack(OneMoment):
    """On one `side` of the rider's course, from `distance_m` out where filming begins to
    `to_distance_m` where it ends, evenly in the time the undisturbed ride takes over it; nearer at
    the end it is an approach.

    The height goes with it from `height_m` to `to_height_m` above what `height_over` names. Without
    `to_height_m` it goes straight along the line of sight: the height above what the camera aims at
    (1 m over the ground under the rider) grows in proportion to the distance.
    """

    name: ClassVar[str] = "pull-back"
    flies: ClassVar[str] = "along with the rider, and away from or toward him"
    word: ClassVar[str] = "pull back"

    side: Literal["behind", "ahead", "left", "right"]
    distance_m: Distance
    to_distance_m: Distance
    height_m: Height
    to_height_m: Height | None = None
    height_over: setpoints.HeightOver = "rider"

    def __post_init__(self) -> None:
        """Check that it moves, and not into the ground."""
        if self.to_distance_m == self.distance_m:
            raise ValueError(
                f"distance_m and to_distance_m are both {self.distance_m:g}: give another "
                "to_distance_m, or a style that keeps its distance"
            )
        if self._end_m < 0.0:
            raise ValueError(
                f"from height_m {self.height_m:g}, which is lower than the camera aims, the line "
                f"of sight runs into the ground at {self.to_distance_m:g} m: give to_height_m"
            )

    def place(self, ride: Ride, stage: Stage) -> Wish:
        """Set points off the rider as the aircraft believes him to be; every ride is as far out
        at the same time. Not known how long the shot is: all at the first distance, unknown."""
        rider = ride.known_xyz_m
        part = self._part(ride.t_s, stage.lasts_s)
        out = self.distance_m + part * (self.to_distance_m - self.distance_m)
        toward = setpoints.unit(ride.course_rad + SIDES[self.side])
        camera = stage.raised(
            rider[..., :2] + out[:, None] * toward,
            self.height_m + part * (self._end_m - self.height_m),
            self.height_over,
            rider[..., 2],
        )
        return Wish.on_rider(camera, rider, known=not math.isnan(stage.lasts_s))

    def words(self) -> str:
        """`pull-back behind the rider, from 6 m out, 3 m above the rider to 24 m out, 9 m`."""
        return (
            f"{self.name} {SIDE_WORDS[self.side]}, from {self.distance_m:g} m out, "
            f"{self.height_m:g} m above {setpoints.OVER_WORDS[self.height_over]}, to "
            f"{self.to_distance_m:g} m out, {self._end_m:g} m above"
        )

    def which(self) -> str:
        return self.side

    def settings(self) -> tuple[Setting, ...]:
        return (
            Setting.height(self.height_m, self.height_over),
            Setting("distance_m", "distance", self.distance_m, "out"),
            Setting("to_distance_m", "ends at", self.to_distance_m, "out"),
            Setting("to_height_m", "ends over", self.to_height_m, "up"),
            Setting("side", "side", self.side),
        )

    @property
    def _end_m(self) -> float:
        """The height at the end."""
        if self.to_height_m is not None:
            return self.to_height_m
        over_aim = self.height_m - setpoints.AIM_M
        return setpoints.AIM_M + over_aim * self.to_distance_m / self.distance_m

    def _part(self, t_s: Array, lasts_s: float) -> Array:
        """`(n,)` how much of its way is gone, 0 before and 1 after what is filmed."""
        if math.isnan(lasts_s):
            return np.zeros_like(t_s)
        return np.clip(t_s / max(lasts_s, STEP_S), 0.0, 1.0)
