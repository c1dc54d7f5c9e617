"""A track over a site: the only thing a check sees. Everything derived is computed when asked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import cached_property, partial

import numpy as np

from shotplan.kernels.light import light as daylight
from shotplan.kernels.motion import sensing
from shotplan.kernels.rides import pruned
from shotplan.model.aircraft import Aircraft
from shotplan.model.arrays import Array, Bools, own
from shotplan.model.day import Day, Person, Weather
from shotplan.model.flight import Stage, Track, Wish
from shotplan.model.rules import Rules
from shotplan.model.shot import Shot
from shotplan.model.site import Kind, Place, Site
from shotplan.scene import sun, sunlight

BLOCK_SAMPLES = 1_500_000  # of disturbed rides at a time
SUN_S = 10.0
Of = Callable[[Array], Array]  # something (k,) of points (k, 3)
OF_A_DAY = ("first", "others", "said")  # derived: with another weather others


@dataclass(frozen=True, kw_only=True)
class Scene:
    """`wish` over the track's samples (None for a recorded flight); `wind_m_s (3,)` the mean wind
    it is flown in, the vector the air moves toward (None not known); `free` row 0 flown by the same
    law without limits (None not flown); `braking_gap_m (2,n)` the least distance of aircraft and
    rider should he brake at that sample of row 0, firmly and as hard as he can (None not asked);
    `start` the moment of the track's first sample on the first take. `enough_m`: margins need only
    be exact below it, else any value at least that will do (+inf, the plan: exact everywhere);
    `spare_m` the same of the disturbed rides. `led`: what is said of how those are led astray (""
    nothing). `told`: words are wanted, and what only they need."""

    site: Site
    day: Day
    aircraft: Aircraft
    rules: Rules
    shot: Shot
    track: Track
    stage: Stage
    wish: Wish | None = None
    wind_m_s: Array | None = None
    free: Track | None = None
    braking_gap_m: Array | None = None
    start: datetime | None = None
    enough_m: float = np.inf
    spare_m: float = 0.0
    led: str = ""
    told: bool = True

    @cached_property
    def first(self) -> Scene:
        """The undisturbed ride alone, as long as it is filmed."""
        return self.only(0)

    def only(self, ride: int) -> Scene:
        """One ride alone, as long as it is filmed; its row is then the only one, and no array of
        the others is kept for it."""
        rows = slice(ride, ride + 1)
        last = int(np.flatnonzero(self.track.ride.filming[ride])[-1])
        whole = slice(0, last + 1)
        if self.track.xyz_m.shape[:2] == (1, last + 1) and np.isinf(self.enough_m):
            return self
        alone = self._part(rows, whole)
        return replace(alone, track=own(alone.track), wish=alone.wish and own(alone.wish))

    @cached_property
    def others(self) -> tuple[Scene, ...]:
        """The disturbed rides, in blocks."""
        rides, samples = self.track.ride.filming.shape
        size = max(1, BLOCK_SAMPLES // samples)
        starts = range(1, rides, size)
        return tuple(self.rows(slice(k, min(k + size, rides)), self.spare_m) for k in starts)

    def rows(self, part: slice, enough_m: float = np.inf) -> Scene:
        """Some of the rides, all samples."""
        return replace(self._part(part, slice(None)), enough_m=enough_m)

    def in_weather(self, weather: Weather) -> Scene:
        """The same flight in another weather; all that was derived of it is kept."""
        blows, day = weather.wind_toward_m_s, replace(self.day, weather=weather)
        other = replace(self, day=day, wind_m_s=blows)
        kept = {name: value for name, value in vars(self).items() if name not in OF_A_DAY}
        vars(other).update({name: kept[name] for name in kept.keys() - vars(other).keys()})
        return other

    def _part(self, rows: slice, samples: slice) -> Scene:
        gap = None if rows.start else self.braking_gap_m
        return replace(
            self,
            enough_m=np.inf,
            track=self.track.part(rows, samples),
            wish=None if self.wish is None else self.wish.samples(samples, rows),
            free=None if self.free is None else self.free.part(slice(0, 1), samples),
            braking_gap_m=None if gap is None else gap[:, samples],
        )

    @property
    def keep_m(self) -> float:
        """How far its centre must stay from everything: half its span, and the rider's margin."""
        return self.aircraft.half_span_m + self.site.keep_clear_m

    @cached_property
    def ground_m(self) -> Array:
        """`(r,n)` elevation straight below the aircraft; NaN unknown."""
        return self.site.terrain.ground_m(self.track.xyz_m[..., :2])

    @cached_property
    def height_m(self) -> Array:
        """`(r,n)` height above the ground straight below; NaN unknown."""
        return self.track.xyz_m[..., 2] - self.ground_m

    @cached_property
    def away_m(self) -> Array:
        """`(r,n)` distance to the nearest point of the surface, negative below it; NaN unknown."""
        away = self.site.terrain.distance_m(np.array(self.track.xyz_m.reshape(-1, 3)))
        return np.where(np.isinf(away), np.nan, away).reshape(self.track.known.shape)

    @property
    def surface_m(self) -> Array:
        """`(n,)` the same of row 0."""
        return np.asarray(self.away_m[0])

    @cached_property
    def height_above_launch_m(self) -> Array:
        """`(r,n)` what the pilot's display shows; NaN where the launch's ground is not known."""
        return self.track.xyz_m[..., 2] - self.stage.launch_m

    @cached_property
    def speed_m_s(self) -> Array:
        """`(r,n)` over the ground, climb included."""
        return np.asarray(np.linalg.norm(self.track.velocity_m_s, axis=-1))

    @cached_property
    def moments(self) -> tuple[datetime, ...]:
        """When each of the n samples is, on the first take."""
        start = self.day.start if self.start is None else self.start
        return tuple(start + timedelta(seconds=float(t)) for t in self.track.ride.t_s)

    @cached_property
    def sun_rad(self) -> tuple[Array, Array]:
        """Azimuth and elevation of the sun's centre `(n,)`, without refraction; straight between
        moments `SUN_S` apart (which is less than a millionth of a radian off)."""
        frame, t = self.site.frame, self.track.ride.t_s
        start = self.day.start if self.start is None else self.start
        at = np.arange(np.floor(t.min() / SUN_S), np.ceil(t.max() / SUN_S) + 1.0) * SUN_S
        moments = [start + timedelta(seconds=float(s)) for s in at]
        toward = daylight.toward(*sun.position(moments, frame.lon_deg, frame.lat_deg))
        east, north, up = (np.interp(t, at, axis) for axis in toward.T)
        azimuth = np.mod(np.arctan2(east, north), 2.0 * np.pi)
        return azimuth, np.arctan2(up, np.hypot(east, north))

    @cached_property
    def toward_sun(self) -> Array:
        """`(n, 3)` unit vectors toward the sun."""
        return daylight.toward(*self.sun_rad)

    @cached_property
    def lux(self) -> Array:
        """`(n,)` light on level ground in the open: the sun's height, a clear sky."""
        return daylight.lux(self.sun_rad[1])

    @cached_property
    def under_trees(self) -> Bools:
        """`(r,n)` where the aircraft or the rider is under or inside a crown or a wood."""
        under = self.site.obstacles.under_trees
        return under(self.track.xyz_m) | under(self.track.ride.xyz_m)

    @cached_property
    def light(self) -> daylight.Light:
        """What the aircraft's eyes have to see by, `(r,n)` (trees counted where they can make it
        too dark; hills that hide the sun where it would stand in an eye)."""
        found = self.light_over_hills
        return found._replace(sun_elevation_rad=self._sun_over_hills_rad(found))

    @cached_property
    def light_over_hills(self) -> daylight.Light:
        """The same as if no hill hid the sun."""
        least = max(self.aircraft.least_light_lux, default=0.0)
        here = np.broadcast_to(self.lux, self.track.heading_rad.shape)
        if (daylight.darker(self.lux, daylight.UNDER_TREES_STOPS) < least).any():
            dim = daylight.darker(self.lux, daylight.UNDER_TREES_STOPS)
            here = np.where(self.under_trees, dim, here)
        water = self.site.terrain.over_water(self.track.xyz_m[..., :2])
        return daylight.Light(here, *self.sun_rad, water)

    def _sun_over_hills_rad(self, light: daylight.Light) -> Array:
        """`(r,n)` the sun's elevation; straight down where it would stand in an eye of the
        aircraft but the ground hides it."""
        track = self.track
        course = np.arctan2(track.velocity_m_s[..., 0], track.velocity_m_s[..., 1])
        near = sensing.sun_in_eyes(self.aircraft.senses, light, track.heading_rad, course)
        elevation = np.array(np.broadcast_to(light.sun_elevation_rad, near.shape))
        toward = np.broadcast_to(self.toward_sun, track.xyz_m.shape)
        lit = sunlight.direct(self.site, track.xyz_m[near], toward[near], things=False).lit
        elevation[near] = np.where(lit == 0.0, -np.pi / 2.0, elevation[near])
        return elevation

    @cached_property
    def blind(self) -> Bools:
        """`(r,n)` where it flies toward what it does not sense: no eye that way, too fast, too
        dark, the low sun in it, or water under the one that looks down (hills asked where needed).
        """
        track, sunny = self.track, self.light_over_hills
        blind = self.aircraft.blind(track.velocity_m_s, track.heading_rad, sunny)
        if (self.sun_rad[1] > np.radians(daylight.DAZZLE_DEG)).all():
            return blind
        set_ = np.full_like(self.sun_rad[1], -np.pi / 2.0)
        dark = self.aircraft.blind(
            track.velocity_m_s, track.heading_rad, sunny._replace(sun_elevation_rad=set_)
        )
        asked = blind & ~dark
        toward = np.broadcast_to(self.toward_sun, track.xyz_m.shape)
        lit = sunlight.direct(self.site, track.xyz_m[asked], toward[asked], things=False).lit
        blind[asked] = lit != 0.0
        return blind

    @cached_property
    def overrun_m(self) -> Array:
        """`(r,n)` how far it runs on where blind; 0 where it senses."""
        return np.where(self.blind, self.aircraft.overrun_m(self.speed_m_s), 0.0)

    @cached_property
    def overrun_end_m(self) -> Array:
        """`(r,n,3)` where it stops when everything freezes (its own place where sensed)."""
        return np.where(self.blind[..., None], self.stop_end_m, self.track.xyz_m)

    @cached_property
    def stop_end_m(self) -> Array:
        """`(r,n,3)` the same whether it senses that way or not."""
        speed = np.maximum(self.speed_m_s, 1e-9)[..., None]
        way = self.aircraft.overrun_m(self.speed_m_s)[..., None]
        return self.track.xyz_m + self.track.velocity_m_s / speed * way

    def least_along(
        self, least: pruned.Least, enough_m: float, bound: pruned.Bound | None = None, *,
        sign_only: bool = False, sensed: bool = True,
    ) -> tuple[Array, Array]:  # fmt: skip
        """Least distance `(r * n,)` from where it flies to where it would stop (`sensed`: there at
        once where it senses), and at which share of that way; where a margin is enough, anything
        that is at least `enough_m` (where nobody films, anything)."""
        ways, end = ("_ways", self.overrun_end_m) if sensed else ("_whole_ways", self.stop_end_m)
        return self._least(least, end, ways, enough_m, bound, sign_only)

    def least_here(
        self, distance: Of, enough_m: float, bound: Of | None = None, *, sign_only: bool = False
    ) -> Array:
        """The same `(r, n)` from where it flies alone."""

        def least(start_m: Array, _end_m: Array, _enough_m: Array | float) -> tuple[Array, Array]:
            return distance(start_m), np.zeros(len(start_m))

        quick = None if bound is None else lambda start_m, *_: bound(start_m)
        here = self.track.xyz_m
        found, _ = self._least(least, here, "_places", enough_m, quick, sign_only)
        return found.reshape(here.shape[:2])

    def looked_here(self, kinds: tuple[Kind, ...]) -> Bools:
        """`(r, n)` whether somebody looked for all of `kinds` where it flies (true where nobody
        films)."""
        looked = partial(self.site.looked_m, kinds=kinds)
        return self.least_here(lambda p: looked(p[:, :2]), 0.0, sign_only=True) >= 0.0

    def _least(
        self, least: pruned.Least, end_m: Array, groups: str, enough_m: float,
        bound: pruned.Bound | None, sign_only: bool,
    ) -> tuple[Array, Array]:  # fmt: skip
        if np.isinf(self.enough_m):
            return least(self.track.xyz_m.reshape(-1, 3), end_m.reshape(-1, 3), np.inf)
        return pruned.least_where_near(least, getattr(self, groups), enough_m, bound, sign_only)

    @cached_property
    def _ways(self) -> pruned.Groups:
        """The filmed samples with their overruns, in groups."""
        return self._grouped(self.overrun_end_m)

    @cached_property
    def _whole_ways(self) -> pruned.Groups:
        """The same with the whole overrun everywhere."""
        return self._grouped(self.stop_end_m)

    def _grouped(self, end_m: Array) -> pruned.Groups:
        start = self.track.xyz_m.reshape(-1, 3)
        return pruned.grouped(start, end_m.reshape(-1, 3), np.flatnonzero(self.track.ride.filming))

    @cached_property
    def _places(self) -> pruned.Groups:
        """The same without the overruns."""
        return self._ways.starts

    def stand_of(self, person: Person) -> Place | None:
        """The place where a person stands in this shot; None when not said."""
        return self.site.places.get(self.shot.stands.place_of(person))
