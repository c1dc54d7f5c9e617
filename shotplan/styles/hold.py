"""Hold: standing still, the camera turning after the rider.

"Static shot of a moving target" in the shot-type taxonomy of Mademlis et al., ACM Computing Surveys
52(5), 2019 (at second hand; its geometry from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from shotplan.files.tables import NonNegative, Text
from shotplan.kernels.motion import setpoints
from shotplan.model.flight import Stage, Wish
from shotplan.model.ride import Ride


@dataclass(frozen=True, kw_only=True)
class Hold:
    """`height_m` above the place `at`, aiming at the rider; where it stands does not depend on him.

    `height_over` as in the other styles, where "rider" means the ground under the place.
    """

    name: ClassVar[str] = "hold"

    at: Text
    height_m: NonNegative
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
