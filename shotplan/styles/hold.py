"""Hold: standing still, the camera turning after the rider.

"Static shot of a moving target" in the shot-type taxonomy of Mademlis et al., ACM Computing Surveys
52(5), 2019 (at second hand; its geometry from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from typing import ClassVar

from shotplan.files.kinds import Height, Text
from shotplan.kernels.motion import setpoints
from shotplan.model.flight import Stage, Style, Wish
from shotplan.model.ride import Ride
from shotplan.model.search import Search
from shotplan.model.settings import Setting


@dataclass(frozen=True, kw_only=True)
class Hold(Style):
    """`height_m` above the place `at`, aiming at the rider; where it stands does not depend on him.

    `height_over` as in the other styles, where "rider" means the ground under the place.
    """

    name: ClassVar[str] = "hold"
    flies: ClassVar[str] = "nowhere: it stands and looks after the rider"
    word: ClassVar[str] = "hold"
    stands_at: ClassVar[str] = "at"

    at: Text
    height_m: Height
    height_over: setpoints.HeightOver = "rider"

    def place(self, ride: Ride, stage: Stage) -> Wish:
        """The same set point for every ride and sample."""
        rider = ride.known_xyz_m
        foot, known = setpoints.at_place(stage.feet[self.at], rider)
        camera = stage.raised(foot[..., :2], self.height_m, self.height_over, foot[..., 2])
        return Wish.on_rider(camera, rider, follows=False, known=known)

    def places(self) -> tuple[str, ...]:
        """The place it stands over."""
        return (self.at,)

    def words(self) -> str:
        """`hold at marker, 5 m above it`."""
        over = "it" if self.height_over == "rider" else setpoints.OVER_WORDS[self.height_over]
        return f"{self.name} at {self.at}, {self.height_m:g} m above {over}"

    def label(self) -> str:
        """`hold marker, 5 m up`."""
        return f"{self.name} {self.at}, {self.numbers()}"

    def which(self) -> str:
        return self.at

    def settings(self) -> tuple[Setting, ...]:
        return (Setting.height(self.height_m, self.height_over, "its place"),)

    @classmethod
    def candidates(cls, search: Search) -> Iterator[Hold]:
        """Every place near and height."""
        for place, height in product(search.places, search.tries.hold_heights_m):
            yield cls(at=place, height_m=height)
