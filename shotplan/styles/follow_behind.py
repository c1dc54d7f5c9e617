"""Follow-behind: opposite the rider's course."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from typing import ClassVar

from shotplan.files.kinds import Distance, Height
from shotplan.kernels.motion import setpoints
from shotplan.model.flight import Stage, Style, Wish
from shotplan.model.ride import Ride
from shotplan.model.search import Search
from shotplan.model.settings import Setting


@dataclass(frozen=True, kw_only=True)
class FollowBehind(Style):
    """`distance_m` behind the rider, against his course; `height_m` above what `height_over`
    names."""

    name: ClassVar[str] = "follow-behind"
    flies: ClassVar[str] = "behind the rider"
    word: ClassVar[str] = "behind"

    distance_m: Distance
    height_m: Height
    height_over: setpoints.HeightOver = "rider"

    def place(self, ride: Ride, stage: Stage) -> Wish:
        """Set points behind the rider as the aircraft believes him to be."""
        rider = ride.known_xyz_m
        xy = rider[..., :2] - self.distance_m * setpoints.unit(ride.course_rad)
        camera = stage.raised(xy, self.height_m, self.height_over, rider[..., 2])
        return Wish.on_rider(camera, rider)

    def words(self) -> str:
        """`follow-behind, 8 m back, 4 m above the rider`."""
        return (
            f"{self.name}, {self.distance_m:g} m back, "
            f"{self.height_m:g} m above {setpoints.OVER_WORDS[self.height_over]}"
        )

    def settings(self) -> tuple[Setting, ...]:
        return (
            Setting.height(self.height_m, self.height_over),
            Setting("distance_m", "distance", self.distance_m, "out"),
        )

    @classmethod
    def candidates(cls, search: Search) -> Iterator[FollowBehind]:
        """Every distance and height."""
        tries = search.tries
        for distance, height in product(tries.behind_m, tries.heights_m):
            yield cls(distance_m=distance, height_m=height)
