"""The flight as those see it who stand somewhere: many places at once, or one exactly."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.advice.vantage import Watched
from shotplan.checks.glare import NEAR_DEG
from shotplan.kernels.light.light import GLARE_DEG
from shotplan.model.arrays import Array, Bools
from shotplan.model.ride import STEP_S
from shotplan.model.site import Site
from shotplan.scene import sunlight
from shotplan.scene.eyesight import range_m
from shotplan.scene.scene import Scene

CROSS = 0.5  # cosine up to which the wind blows across: 60° to either side
CROSS_WORTH = 0.8  # of a flight across the wind, when one upwind is worth 1 and downwind 0
LEAST_M = 1e-9  # nothing is divided by less


class Flight(NamedTuple):
    """All shots, one after the other: `xyz_m (n,3)`, `shot (n,)` which, `toward_sun (n,3)`,
    `sample (n,)` the number of each; `limit_m` how far it is seen; `wind_toward (2,)` unit
    vector (None: calm, or not known)."""

    site: Site
    xyz_m: Array
    shot: NDArray[np.intp]
    toward_sun: Array
    sample: NDArray[np.intp]
    limit_m: float
    wind_toward: Array | None

    def thinned(self, count: int) -> Flight:
        """About `count` of the samples, evenly."""
        some = np.unique(np.linspace(0, len(self.xyz_m) - 1, count).round().astype(int))
        return self._replace(
            xyz_m=self.xyz_m[some],
            shot=self.shot[some],
            toward_sun=self.toward_sun[some],
            sample=self.sample[some],
        )


class Seen(NamedTuple):
    """From k eyes at n samples, each `(k,n)`: whether it is seen, whether ground that is not known
    lies in the way of a line nothing known cuts, and the slant distance."""

    seen: Bools
    unknown: Bools
    slant_m: Array


def flight_of(scenes: Sequence[Scene]) -> Flight:
    """The undisturbed rides of some shots (at least one)."""
    first = scenes[0]
    wind = first.day.weather.wind_toward_m_s
    blows = None if wind is None or not wind.any() else wind[:2] / np.hypot(*wind[:2])
    tracks = [s.track.xyz_m[0] for s in scenes]
    return Flight(
        site=first.site,
        xyz_m=np.concatenate(tracks),
        shot=np.repeat(np.arange(len(scenes)), [len(t) for t in tracks]),
        toward_sun=np.concatenate([s.toward_sun for s in scenes]),
        sample=np.arange(sum(len(t) for t in tracks)),
        limit_m=range_m(first)[0],
        wind_toward=blows,
    )


def seen_from(flight: Flight, eyes_m: Array) -> Seen:
    """Whether eyes `(k,3)`, or moving ones `(k,n,3)`, see the aircraft: near enough, and no known
    ground, crown, wood or building between; never where the ground between is not known."""
    ends = np.broadcast_to(flight.xyz_m, (len(eyes_m), *flight.xyz_m.shape))
    starts = np.broadcast_to(eyes_m if eyes_m.ndim == 3 else eyes_m[:, None], ends.shape)
    slant = np.linalg.norm(ends - starts, axis=2)
    near = slant <= flight.limit_m
    free, unknown = free_ways(flight.site, starts[near], ends[near])
    seen, doubtful = np.zeros(slant.shape, dtype=bool), np.zeros(slant.shape, dtype=bool)
    seen[near], doubtful[near] = free, unknown
    return Seen(seen, doubtful, slant)


def free_ways(site: Site, start_m: Array, end_m: Array) -> tuple[Bools, Bools]:
    """Which straight ways `(m,3)` nothing cuts, and which only ground that is not known may."""
    ground = site.terrain.first_cut(start_m, end_m)
    uncut = np.isinf(ground.at)
    by_thing, _ = site.obstacles.opaque.first_cut(start_m[uncut], end_m[uncut])
    uncut[uncut] = np.isinf(by_thing)
    known = np.isinf(ground.unknown_at)
    return np.asarray(uncut & known), np.asarray(uncut & ~known)


def wind_shares(flight: Flight, eyes_m: Array) -> Array:
    """Shares `(k,3)` of the flight for which eyes `(k,3)` stand upwind of it, across, downwind; NaN
    in a calm or where the wind is not known."""
    if flight.wind_toward is None:
        return np.full((len(eyes_m), 3), np.nan)
    way = flight.xyz_m[None, :, :2] - eyes_m[:, None, :2]
    away = np.maximum(np.hypot(way[..., 0], way[..., 1]), LEAST_M)
    with_it = (way @ flight.wind_toward) / away  # 1: the aircraft is straight downwind
    up, down = with_it > CROSS, with_it < -CROSS
    return np.stack([up.mean(axis=1), (~up & ~down).mean(axis=1), down.mean(axis=1)], axis=1)


def wind_worth(flight: Flight, eyes_m: Array) -> Array:
    """The same as one number `(k,)`: 1 upwind, 0 downwind, a half where nothing is known."""
    shares = wind_shares(flight, eyes_m)
    return np.asarray(np.nan_to_num(shares @ np.array([1.0, CROSS_WORTH, 0.0]), nan=0.5))


class SunShares(NamedTuple):
    """Shares of the flight `(k,)`: within 25° of the sun, within 50° only, the sun up at all."""

    glare: Array
    near: Array
    up: Array


def sun_shares(flight: Flight, eyes_m: Array) -> SunShares:
    """How much of the flight is near the sun for eyes `(k,3)`. Whether the ground hides the sun is
    asked for the middle of each shot."""
    way = flight.xyz_m[None] - eyes_m[:, None]
    length = np.maximum(np.linalg.norm(way, axis=2), LEAST_M)
    cosine = np.einsum("knc,nc->kn", way, flight.toward_sun) / length
    up = np.broadcast_to(flight.toward_sun[:, 2] > 0.0, cosine.shape).copy()
    for shot in np.unique(flight.shot):
        samples = np.flatnonzero(flight.shot == shot)
        middle = flight.toward_sun[samples[len(samples) // 2]]
        toward = np.broadcast_to(middle, eyes_m.shape)
        lit = sunlight.direct(flight.site, eyes_m, toward, things=False).lit != 0.0
        up[:, samples] &= lit[:, None]
    glare = up & (cosine > np.cos(np.radians(GLARE_DEG)))
    near = up & (cosine > np.cos(np.radians(NEAR_DEG))) & ~glare
    return SunShares(glare.mean(axis=1), near.mean(axis=1), up.mean(axis=1))


def watched(flight: Flight, seen: Seen, sun: SunShares, eyes_m: Array) -> list[Watched]:
    """Everything about still eyes `(k,3)`, over every sample of the flight."""
    wind = wind_shares(flight, eyes_m)
    lasts_s = len(flight.xyz_m) * STEP_S
    return [
        _sight(flight, seen, k)._replace(
            wind=None if np.isnan(wind[k]).any() else (wind[k, 0], wind[k, 1], wind[k, 2]),
            glare_s=float(sun.glare[k]) * lasts_s,
            near_sun_s=float(sun.near[k]) * lasts_s,
            sun_s=float(sun.up[k]) * lasts_s,
        )
        for k in range(len(eyes_m))
    ]


def watched_riding(flight: Flight, eye_m: Array) -> Watched:
    """What is seen from an eye `(n,3)` that rides along; neither wind nor sun are asked."""
    return _sight(flight, seen_from(flight, eye_m[None]), 0)


def _sight(flight: Flight, seen: Seen, k: int) -> Watched:
    shots = range(int(flight.shot.max()) + 1)
    return Watched(
        seen=float(seen.seen[k].mean()),
        by_shot=tuple(float(seen.seen[k, flight.shot == s].mean()) for s in shots),
        unknown=float(seen.unknown[k].mean()),
        nearest_m=float(seen.slant_m[k].min()),
        farthest_m=float(seen.slant_m[k].max()),
        wind=None,
        glare_s=np.nan,
        near_sun_s=np.nan,
        sun_s=np.nan,
    )
