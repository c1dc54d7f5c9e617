"""Fly-by: a straight line past the rider.

"Fly-by" in the shot-type taxonomy of Mademlis et al., ACM Computing Surveys 52(5), 2019 (at second
hand; its geometry from memory): a straight line at constant velocity that passes the target at a
lateral offset at a set moment.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal, NamedTuple

import numpy as np

from shotplan.files.kinds import Distance, Height, Speed
from shotplan.kernels.motion import setpoints
from shotplan.model.arrays import Array
from shotplan.model.flight import OneMoment, Stage, Wish
from shotplan.model.ride import Ride
from shotplan.model.settings import Setting

ALONG = {"with": 1.0, "against": -1.0}


class _Crossing(NamedTuple):
    """Where the undisturbed rider is passed `(3,)`, his course there, when, and whether the
    ground there is known."""

    rider_m: Array
    course_rad: Array
    t_s: float
    known: bool


@dataclass(frozen=True, kw_only=True)
class FlyBy(OneMoment):
    """A straight line over the ground at `speed_m_s`, parallel to the rider's course at the middle
    (by time) of the filmed part, when it passes him abeam, `distance_m` to his left or right.

    `direction`: `with` his course (it overtakes him, or he it) or `against` it. Line and clock are
    those of the undisturbed ride: a rider who is late is passed elsewhere. It aims at the rider.
    `height_over`: `rider`, level above the ground under him at the crossing; `launch`, level above
    the launch; `higher-ground`, the higher of the former and the ground under the aircraft.
    """

    name: ClassVar[str] = "fly-by"
    flies: ClassVar[str] = "past the rider, on a line of its own"
    word: ClassVar[str] = "fly by"

    side: Literal["left", "right"]
    distance_m: Distance
    height_m: Height
    speed_m_s: Speed
    direction: Literal["with", "against"]
    height_over: setpoints.HeightOver = "rider"

    def place(self, ride: Ride, stage: Stage) -> Wish:
        """Set points on the line; every ride meets the same one at the same time."""
        at = _crossing(ride)
        abeam = setpoints.unit(at.course_rad + setpoints.ABEAM[self.side])
        along = ALONG[self.direction] * setpoints.unit(at.course_rad)
        gone = self.speed_m_s * (ride.t_s - at.t_s)
        xy = at.rider_m[:2] + self.distance_m * abeam + gone[:, None] * along
        line = stage.raised(xy, self.height_m, self.height_over, at.rider_m[2])
        shape = ride.course_rad.shape
        return Wish(
            camera_xyz_m=np.broadcast_to(line.xyz_m, (*shape, 3)),
            aim_xyz_m=setpoints.aim_at(ride.known_xyz_m),
            follows_rider=False,
            aim_follows_rider=True,
            known=np.broadcast_to(line.known & (at.known or self.height_over == "launch"), shape),
        )

    def words(self) -> str:
        """`fly-by on the left, against his course at 9 m/s, 12 m out, 6 m above the rider`."""
        return (
            f"{self.name} on the {self.side}, {self.direction} his course at "
            f"{self.speed_m_s:g} m/s, {self.distance_m:g} m out, "
            f"{self.height_m:g} m above {setpoints.OVER_WORDS[self.height_over]}"
        )

    def which(self) -> str:
        return self.side

    def settings(self) -> tuple[Setting, ...]:
        return (
            Setting.height(self.height_m, self.height_over),
            Setting("distance_m", "distance", self.distance_m, "out"),
            Setting("side", "side", self.side),
            Setting("direction", "direction", self.direction),
            Setting("speed_m_s", "speed", self.speed_m_s, "fast"),
        )


def _crossing(ride: Ride) -> _Crossing:
    """The middle of what row 0 films; half way between two samples where their number is even."""
    filmed = np.flatnonzero(ride.filming[0])
    twice = int(filmed[0] + filmed[-1])
    pair = [twice // 2, (twice + 1) // 2]
    return _Crossing(
        rider_m=ride.xyz_m[0, pair].mean(axis=0),
        course_rad=setpoints.azimuth_rad(setpoints.unit(ride.course_rad[0, pair]).mean(axis=0)),
        t_s=float(ride.t_s[pair].mean()),
        known=bool(ride.ground_known[0, pair].all()),
    )
