"""Top-down: straight above the rider, the camera straight down.

"Vertical tracking" in the shot-type taxonomy of Mademlis et al., ACM Computing Surveys 52(5), 2019
(at second hand; its geometry from memory): a constant offset above the target.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

from shotplan.files.kinds import Distance
from shotplan.kernels.motion import setpoints
from shotplan.model.flight import Stage, Style, Wish
from shotplan.model.ride import Ride
from shotplan.model.search import Search
from shotplan.model.settings import Setting


@dataclass(frozen=True, kw_only=True)
class TopDown(Style):
    """`height_m` straight above the ground under the rider, his course up in the picture. The
    camera does not turn after him: he is off its middle by what the aircraft trails."""

    name: ClassVar[str] = "top-down"
    flies: ClassVar[str] = "straight above the rider"
    word: ClassVar[str] = "from above"

    height_m: Distance

    def __post_init__(self) -> None:
        """Check that it looks down."""
        if self.height_m <= setpoints.AIM_M:
            raise ValueError(
                f"height_m is {self.height_m:g}: that is not above the rider; he is filmed from "
                "straight above, so give a height over his head"
            )

    def place(self, ride: Ride, stage: Stage) -> Wish:
        """Set points above the rider as the aircraft believes him to be."""
        rider = ride.known_xyz_m
        camera = stage.raised(rider[..., :2], self.height_m, "rider", rider[..., 2])
        return replace(Wish.on_rider(camera, rider), down_toward_rad=ride.course_rad)

    def words(self) -> str:
        """`top-down, 15 m above the rider`."""
        return f"{self.name}, {self.height_m:g} m above the rider"

    def settings(self) -> tuple[Setting, ...]:
        return (Setting.height(self.height_m, "rider"),)

    @classmethod
    def candidates(cls, search: Search) -> Iterator[TopDown]:
        """Every height."""
        return (cls(height_m=height) for height in search.tries.top_down_m)
