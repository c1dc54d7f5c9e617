"""A track over a site: the only thing a check sees. Everything derived is computed when asked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

import numpy as np

from shotplan.model.aircraft import Aircraft
from shotplan.model.arrays import Array, Bools
from shotplan.model.day import Day, Person
from shotplan.model.flight import Stage, Track, Wish
from shotplan.model.rules import Rules
from shotplan.model.shot import Shot
from shotplan.model.site import Place, Site


@dataclass(frozen=True, kw_only=True)
class Scene:
    """`wish` over the track's samples (None for a recorded flight); `wind_m_s (3,)` the mean wind
    it is flown in, the vector the air moves toward (None not known); `braking_gap_m (n,)` the least
    distance of aircraft and rider should he brake hard at that sample of row 0 (None not asked);
    `start` the moment of the track's first sample on the first take."""

    site: Site
    day: Day
    aircraft: Aircraft
    rules: Rules
    shot: Shot
    track: Track
    stage: Stage
    wish: Wish | None = None
    wind_m_s: Array | None = None
    braking_gap_m: Array | None = None
    start: datetime | None = None

    @cached_property
    def ground_m(self) -> Array:
        """`(r,n)` elevation straight below the aircraft; NaN unknown."""
        return self.site.terrain.ground_m(self.track.xyz_m[..., :2])

    @cached_property
    def height_m(self) -> Array:
        """`(r,n)` height above the ground straight below; NaN unknown."""
        return self.track.xyz_m[..., 2] - self.ground_m

    @cached_property
    def surface_m(self) -> Array:
        """`(n,)` row 0's distance to the nearest point of the surface, negative below it."""
        found = self.site.terrain.nearest(np.array(self.track.xyz_m[0]))
        return np.where(np.isinf(found.distance_m), np.nan, found.distance_m)

    @cached_property
    def height_above_launch_m(self) -> Array:
        """`(r,n)` what the pilot's display shows; NaN where the launch's ground is not known."""
        return self.track.xyz_m[..., 2] - self.stage.launch_m

    @cached_property
    def speed_m_s(self) -> Array:
        """`(r,n)` over the ground, climb included."""
        return np.asarray(np.linalg.norm(self.track.velocity_m_s, axis=-1))

    @cached_property
    def blind(self) -> Bools:
        """`(r,n)` where it flies toward what it does not sense."""
        return self.aircraft.blind(self.track.velocity_m_s, self.track.heading_rad)

    @cached_property
    def overrun_m(self) -> Array:
        """`(r,n)` how far it runs on in blind samples; 0 in sensed ones."""
        return np.where(self.blind, self.aircraft.overrun_m(self.speed_m_s), 0.0)

    @cached_property
    def overrun_end_m(self) -> Array:
        """`(r,n,3)` where it stops when everything freezes (its own place where sensed)."""
        speed = np.maximum(self.speed_m_s, 1e-9)[..., None]
        return self.track.xyz_m + self.track.velocity_m_s / speed * self.overrun_m[..., None]

    def stand_of(self, person: Person) -> Place | None:
        """The place where a person stands in this shot; None when not said."""
        return self.site.places.get(self.shot.stands.place_of(person))
