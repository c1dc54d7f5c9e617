"""How far from the plan a ride may go: every spread a setting with a default and its source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from shotplan.model import settings
from shotplan.model.aircraft import Aircraft
from shotplan.model.arrays import Array, Bools
from shotplan.model.day import Weather
from shotplan.model.ride import RIDER_BRAKES_M_S2
from shotplan.units import GRAVITY_M_S2

# One standard error along each axis, of whatever receiver: a recording's fixes, a beacon
RECEIVER_M = 2.5  # under an open sky
RECEIVER_LEAVES_M = 6.0  # under leaves: 4.96 to 11.45 m, Tomaštík et al. 2017, Forestry 90:187
ACROSS = 0.75  # of the gusts along the wind: turbulence across it (common practice, from memory)


@dataclass(frozen=True, kw_only=True)
class Disturbance:
    """`[disturbance]` of a site. `rides` disturbed ones beside the undisturbed (1: the undisturbed
    alone); the same `seed` gives the same rides. 0 takes a spread away."""

    rides: int = 300
    seed: int = 1
    speed_sigma: float = 0.08
    brakes_per_km: float = 1.0
    brake_m_s2: float = RIDER_BRAKES_M_S2
    pause_s: float = 2.0
    resume_m_s2: float = 1.4
    sight_s: float = 2.0
    receiver_open_m: float = RECEIVER_M
    receiver_leaves_m: float = RECEIVER_LEAVES_M
    receiver_s: float = 30.0
    height_sigma_m: float = 0.33
    gust_sigmas: float = 3.0
    gust_s: float = 5.0
    response_sigma: float = 0.1

    @property
    def rows(self) -> int:
        """How many rides that makes in all, the undisturbed one among them."""
        return 1 if self.rides == 1 else 1 + self.rides


SOURCES: dict[str, tuple[str, str, str]] = {
    "rides": (
        "",
        "disturbed rides flown beside the undisturbed",
        "299 clean ones prove a share under 1 %: Clopper and Pearson",
    ),
    "seed": ("", "start of the random numbers", "own choice; the same seed, the same rides"),
    "speed_sigma": (
        "of the speed",
        "spread of one rider's speed from take to take (log-normal)",
        "from memory: laps of one rider differ by 5 to 10 %",
    ),
    "brakes_per_km": ("per km", "how often the rider brakes unplanned", "own setting, from memory"),
    "brake_m_s2": (
        "m/s²",
        "how hard he then brakes, down to any share of his speed",
        "a firm stop, about what a rear brake alone gives (0.25 to 0.37 g): SAE 2020-01-0876",
    ),
    "pause_s": ("s", "how long he then stays slow", "own setting, from memory"),
    "resume_m_s2": (
        "m/s²",
        "how he speeds up again",
        "85th percentile between 12 and 24 m: FHWA-HRT-04-103",
    ),
    "sight_s": ("s", "how fast the error of following by sight changes", "from memory"),
    "receiver_open_m": (
        "m",
        "error of the rider's receiver under an open sky, each way",
        "Tomaštík et al. 2017, Forestry 90:187: 1.90 to 2.36 m",
    ),
    "receiver_leaves_m": (
        "m",
        "the same under leaves (the aircraft's own grows in proportion)",
        "Tomaštík et al. 2017: 4.96 to 11.45 m with leaves",
    ),
    "receiver_s": (
        "s",
        "how fast the error of a receiver, and of the height, changes",
        "from memory",
    ),
    "height_sigma_m": (
        "m",
        "error of the height it keeps",
        "1 m for a barometer in SORA's sizing, taken as three spreads",
    ),
    "gust_sigmas": (
        "",
        "how many spreads of the wind the gust of the forecast is above its mean",
        "peak factor 3 to 3.5: EN 1991-1-4 takes 3.5",
    ),
    "gust_s": ("s", "how long a gust pushes one way", "from memory, low over open ground"),
    "response_sigma": (
        "of it",
        "spread of the aircraft's delay and stiffness from flight to flight",
        "own setting, from memory",
    ),
}


def explained(said: Disturbance) -> tuple[str, ...]:
    """Every setting with its source, a line each."""
    return settings.explained(said, SOURCES)


class Spread(NamedTuple):
    """What spreads the rides of one aircraft on one day. `follow_m (n,)` error of the rider's
    place as the aircraft believes it, each level axis, at each sample of the undisturbed ride;
    `own_m (n,)` error of its own place, for what does not follow the rider; `follow_s`, `own_s`
    how fast they change. `height_m` changes as slowly as `own_s`. `push_m_s2 (2, 2)` turns two
    independent unit series into the push of gusts, east and north; `push_s`. `response` of delay
    and stiffness."""

    follow_m: Array
    follow_s: float
    own_m: Array
    own_s: float
    height_m: float
    push_m_s2: Array
    push_s: float
    response: float


def spread_of(
    said: Disturbance, aircraft: Aircraft, weather: Weather, rider_under: Bools, own_under: Bools
) -> Spread:
    """The spread by sight or by beacon; along the undisturbed ride whether the rider, and whether
    the aircraft itself, is under leaves, `(n,)` each."""
    receiver = np.where(rider_under, said.receiver_leaves_m, said.receiver_open_m)
    usual = said.receiver_open_m
    worse = said.receiver_leaves_m / usual if usual > 0.0 else 1.0
    own = aircraft.position_sigma_m * np.where(own_under, worse, 1.0)
    by_sight = aircraft.follows_by == "sight"
    sight = np.full(rider_under.shape, aircraft.sight_sigma_m)
    return Spread(
        follow_m=sight if by_sight else np.hypot(receiver, own),
        follow_s=said.sight_s if by_sight else said.receiver_s,
        own_m=own,
        own_s=said.receiver_s,
        height_m=said.height_sigma_m,
        push_m_s2=_push(said, aircraft, weather),
        push_s=said.gust_s,
        response=said.response_sigma,
    )


def _push(said: Disturbance, aircraft: Aircraft, weather: Weather) -> Array:
    """`(2, 2)` what a gust of one spread along and across the wind does to the aircraft.

    A wind equal to its greatest airspeed pushes as hard as its steepest tilt can hold; in between
    the push grows evenly with the gust. Alike all round where the wind has no direction or none is
    known; 0 where the mean or the gust is not known.
    """
    mean, gust = weather.wind_m_s, weather.gust_m_s
    if mean is None or gust is None or said.gust_sigmas <= 0.0:
        return np.zeros((2, 2))
    sigma = max(gust - mean, 0.0) / said.gust_sigmas
    hold = GRAVITY_M_S2 * np.tan(aircraft.max_tilt_rad) / aircraft.max_speed_m_s
    toward = weather.wind_toward_m_s
    if toward is None or mean == 0.0:
        return np.asarray(sigma * hold * np.eye(2))
    along = toward[:2] / mean
    across = np.array([along[1], -along[0]])
    return np.asarray(sigma * hold * np.column_stack([along, ACROSS * across]))
