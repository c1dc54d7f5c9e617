"""Side-track: abeam of the rider, or on one side of the world whatever his course."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product
from typing import ClassVar

import numpy as np

from shotplan.files.kinds import Distance, Height
from shotplan.kernels.motion import setpoints
from shotplan.model.arrays import Array, Bools
from shotplan.model.flight import Stage, Style, Wish
from shotplan.model.ride import Ride
from shotplan.model.search import Search
from shotplan.model.settings import Setting

SLOPE = {"downhill": 0.0, "uphill": math.pi}
COMPASS = {"north": 0.0, "east": math.pi / 2.0, "south": math.pi, "west": -math.pi / 2.0}
BEARING = {"toward": 0.0, "away": math.pi}


@dataclass(frozen=True, kw_only=True)
class SideTrack(Style):
    """`distance_m` to one side of the rider; `height_m` above what `height_over` names.

    `side`: left, right of the course; or a side of the world, kept through turns: north, east,
    south, west; downhill, uphill (one azimuth for the shot, from the mean slope under it);
    toward:ID, away:ID (the bearing to or from that place at each moment). On a compass side the
    aircraft leads, flying backward, while the rider rides that way.
    """

    name: ClassVar[str] = "side-track"
    flies: ClassVar[str] = "beside the rider"
    word: ClassVar[str] = "beside"

    side: str
    distance_m: Distance
    height_m: Height
    height_over: setpoints.HeightOver = "rider"

    def __post_init__(self) -> None:
        """Check the side."""
        how, colon, place = self.side.partition(":")
        if self.side in setpoints.ABEAM or self.side in SLOPE or self.side in COMPASS:
            return
        if how in BEARING and colon and place:
            return
        raise ValueError(
            f"side is {self.side!r}; write left or right (of the course), downhill, uphill, "
            'north, east, south, west, or "toward:ID" or "away:ID" with the id of a place'
        )

    def place(self, ride: Ride, stage: Stage) -> Wish:
        """Set points beside the rider as the aircraft believes him to be.

        Where the slope is not known (or level), downhill and uphill are flown on the left and
        nothing about them is known.
        """
        rider = ride.known_xyz_m
        azimuth, sided = self._azimuth_rad(ride, stage)
        xy = rider[..., :2] + self.distance_m * setpoints.unit(azimuth)
        camera = stage.raised(xy, self.height_m, self.height_over, rider[..., 2])
        return Wish.on_rider(camera, rider, known=sided)

    def places(self) -> tuple[str, ...]:
        """The place it keeps toward or away from."""
        _, colon, place = self.side.partition(":")
        return (place,) if colon else ()

    def words(self) -> str:
        """`side-track, left, 12 m out, 6 m above the rider`."""
        how, colon, place = self.side.partition(":")
        if colon:
            side = f"toward {place}" if how == "toward" else f"away from {place}"
        else:
            side = self.side
            if side in COMPASS:
                side = f"{side} side (ahead, flying backward, while he rides {side})"
        return (
            f"{self.name}, {side}, {self.distance_m:g} m out, "
            f"{self.height_m:g} m above {setpoints.OVER_WORDS[self.height_over]}"
        )

    def which(self) -> str:
        return self.side.replace(":", " ", 1)

    def settings(self) -> tuple[Setting, ...]:
        return (
            Setting.height(self.height_m, self.height_over),
            Setting("distance_m", "distance", self.distance_m, "out"),
            Setting("side", "side", self.side),
        )

    def held_side(self, azimuth_rad: float) -> str:
        """A side of the world, for one of the course."""
        if self.side not in setpoints.ABEAM:
            return ""
        return f'side = "{[*COMPASS][round(math.degrees(azimuth_rad) / 90.0) % 4]}"'

    def choices(self) -> Mapping[str, tuple[str, ...]]:
        """Its sides by themselves; the other bearing of its place."""
        how, colon, place = self.side.partition(":")
        others = tuple(f"{other}:{place}" for other in BEARING if other != how) if colon else ()
        sides = (*others, *setpoints.ABEAM, *SLOPE, *COMPASS)
        return {**super().choices(), "side": sides}

    @classmethod
    def candidates(cls, search: Search) -> Iterator[SideTrack]:
        """Every side, distance and height; uphill and downhill where there is a slope."""
        tries = search.tries
        sides = (side for side in tries.sides if search.slopes or side not in SLOPE)
        for side, distance, height in product(sides, tries.side_m, tries.heights_m):
            yield cls(side=side, distance_m=distance, height_m=height)

    def _azimuth_rad(self, ride: Ride, stage: Stage) -> tuple[Array, Bools]:
        """`(r, n)` from the rider to the set point, and where that is known."""
        course = ride.course_rad
        everywhere = np.ones(course.shape, dtype=bool)
        how, colon, place = self.side.partition(":")
        if colon:
            toward = setpoints.azimuth_rad(stage.places[place][:2] - ride.known_xyz_m[..., :2])
            return toward + BEARING[how], everywhere
        if self.side in COMPASS:
            return np.full(course.shape, COMPASS[self.side]), everywhere
        if self.side in setpoints.ABEAM:
            return course + setpoints.ABEAM[self.side], everywhere
        if math.isnan(stage.downhill_rad):
            return course + setpoints.ABEAM["left"], ~everywhere
        return np.full(course.shape, stage.downhill_rad + SLOPE[self.side]), everywhere
