"""Lead: before the rider, flying backward.

"Lead" or "reverse follow" in the shot-type taxonomy of Mademlis et al., ACM Computing Surveys
52(5), 2019 (at second hand; its geometry from memory): a constant offset along the target's course.
"""

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
class Lead(Style):
    """`distance_m` ahead of the rider, along his course; `height_m` above what `height_over`
    names. In a bend it swings to the outside, off the way that is ridden."""

    name: ClassVar[str] = "lead"
    flies: ClassVar[str] = "in front of the rider, backward"
    word: ClassVar[str] = "ahead"

    distance_m: Distance
    height_m: Height
    height_over: setpoints.HeightOver = "rider"

    def place(self, ride: Ride, stage: Stage) -> Wish:
        """Set points ahead of the rider as the aircraft believes him to be."""
        rider = ride.known_xyz_m
        xy = rider[..., :2] + self.distance_m * setpoints.unit(ride.course_rad)
        camera = stage.raised(xy, self.height_m, self.height_over, rider[..., 2])
        return Wish.on_rider(camera, rider)

    def words(self) -> str:
        """`lead, 8 m ahead, 4 m above the rider`."""
        return (
            f"{self.name}, {self.distance_m:g} m ahead, "
            f"{self.height_m:g} m above {setpoints.OVER_WORDS[self.height_over]}"
        )

    def settings(self) -> tuple[Setting, ...]:
        return (
            Setting.height(self.height_m, self.height_over),
            Setting("distance_m", "distance", self.distance_m, "out"),
        )

    @classmethod
    def candidates(cls, search: Search) -> Iterator[Lead]:
        """Every distance and height."""
        tries = search.tries
        for distance, height in product(tries.behind_m, tries.heights_m):
            yield cls(distance_m=distance, height_m=height)
