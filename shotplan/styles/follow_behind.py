"""Follow-behind: opposite the rider's course."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from shotplan.files.tables import NonNegative, Positive
from shotplan.kernels.motion import setpoints
from shotplan.model.flight import Stage, Wish
from shotplan.model.ride import Ride


@dataclass(frozen=True, kw_only=True)
class FollowBehind:
    """`distance_m` behind the rider, against his course; `height_m` above what `height_over`
    names."""

    name: ClassVar[str] = "follow-behind"

    distance_m: Positive
    height_m: NonNegative
    height_over: setpoints.HeightOver = "rider"

    def place(self, ride: Ride, stage: Stage) -> Wish:
        """Set points behind the rider as the aircraft believes him to be."""
        rider = ride.known_xyz_m
        xy = rider[..., :2] - self.distance_m * setpoints.unit(ride.course_rad)
        camera = stage.raised(xy, self.height_m, self.height_over, rider[..., 2])
        return Wish.on_rider(camera, rider)

    def places(self) -> tuple[str, ...]:
        """It needs no place."""
        return ()

    def words(self) -> str:
        """`follow-behind, 8 m back, 4 m above the rider`."""
        return (
            f"{self.name}, {self.distance_m:g} m back, "
            f"{self.height_m:g} m above {setpoints.OVER_WORDS[self.height_over]}"
        )
