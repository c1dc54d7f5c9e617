"""How much wind a shot bears: largest mean for each direction, largest gust where one is missing.

Everything is closed form: with the mean and the gust as the weather says them, the gust where it
flies is `mean · factor + spread · (gust - mean)`, and every limit is one on that or on the mean.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from shotplan.kernels.motion.wind import beaufort
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.scene import local_wind
from shotplan.scene.local_wind import Local
from shotplan.scene.margin import GoIf
from shotplan.scene.scene import Scene

SIDES = say.COMPASS[::2]
USUAL_GUST = 1.5
USUAL_GUST_SOURCE = (
    "gusts taken as 1.5 times the mean: WMO/TD-1555 Table 1.1, off-land 1.52 (from memory)"
)
LEE_M_S = 1.5  # own setting: Beaufort 1, smoke drifts; less does not tumble enough to matter
HAND_M = 2.0
LEAST_MEAN_M_S = 1.0  # below it gust over mean says nothing


class Bears(NamedTuple):
    """Limits at points `(...)`: `gust_m_s` of the gust where it flies, for the aircraft's rating
    and its airspeed; `lee_m_s` the same for the lee (+inf outside it); `mean_m_s` of the mean
    where it flies, for the updraught (+inf where the ground does not rise)."""

    gust_m_s: Array
    lee_m_s: Array
    mean_m_s: Array


class WindLimit(NamedTuple):
    """The largest wind from one side for which the shot stays go. `mean_m_s` at 10 m over open
    ground, `hand_m_s` the same wind 2 m up at the launch, `force` its Beaufort number; NaN and -1
    unknown. `by` what decides: rating or airspeed, updraught, lee, or unknown. Over `no_go_m_s`,
    a mean at 10 m too, it is no-go."""

    side: str
    from_rad: float
    mean_m_s: float
    hand_m_s: float
    force: int
    by: str
    no_go_m_s: float


class Side(NamedTuple):
    """A wind from one side over the filmed samples of some rides: what the ground makes of it,
    and what the aircraft bears."""

    from_rad: float
    local: Local
    bears: Bears


def side_of(scene: Scene, from_rad: float, rides: int | None = None) -> Side:
    """A wind from one side, over the samples filmed on the first `rides` rides (None all)."""
    on = scene.track.ride.filming[:rides]
    xyz, height = scene.track.xyz_m[:rides][on], scene.height_m[:rides][on]
    local = local_wind.local(scene, from_rad, xyz, height)
    return Side(
        from_rad, local, _bears(scene, scene.track.velocity_m_s[:rides][on], local, from_rad)
    )


def _bears(scene: Scene, velocity: Array, local: Local, from_rad: float) -> Bears:
    craft = scene.aircraft
    airspeed = bearable_m_s(velocity, from_rad, craft.max_speed_m_s)
    rising = local.air.updraught
    with np.errstate(divide="ignore"):
        mean = np.where(rising > 0.0, craft.max_sink_m_s / rising, np.inf)
    return Bears(
        np.minimum(np.maximum(airspeed, 0.0), craft.max_wind_m_s),
        np.where(local.air.lee, LEE_M_S, np.inf),
        mean,
    )


def bearable_m_s(velocity_m_s: Array, from_rad: float, airspeed_m_s: float) -> Array:
    """`(...)` the strongest wind in which what flies at `velocity_m_s (..., 2 or 3)` takes that
    airspeed; negative where it takes less wind from the other side, 0 where none will do."""
    east, north = local_wind.toward(from_rad)
    with_wind = velocity_m_s[..., 0] * east + velocity_m_s[..., 1] * north
    across = velocity_m_s[..., 0] * north - velocity_m_s[..., 1] * east
    room = airspeed_m_s**2 - across**2
    return np.where(room >= 0.0, with_wind + np.sqrt(np.maximum(room, 0.0)), 0.0)


def gust_ratio(scene: Scene) -> float:
    """Gust over mean as the weather says it, else the usual one."""
    mean, gust = scene.day.weather.wind_m_s, scene.day.weather.gust_m_s
    if mean is None or gust is None or mean < LEAST_MEAN_M_S:
        return USUAL_GUST
    return gust / mean


def largest_mean(side: Side, ratio: float) -> tuple[float, str]:
    """Largest mean, as the weather says it, at a fixed gust over mean; and what decides."""
    strength = side.local.mean + side.local.spread * (ratio - 1.0)
    found = {
        "rating or airspeed": _least(side.bears.gust_m_s / strength),
        "lee": _least(side.bears.lee_m_s / strength),
        "updraught": _least(side.bears.mean_m_s / side.local.mean),
    }
    if any(math.isnan(value) for value in found.values()):
        return math.nan, "unknown"
    by = min(found, key=lambda name: found[name])
    return found[by], by


def hard_mean(side: Side, ratio: float) -> float:
    """The same for the aircraft's rating and airspeed alone."""
    return _least(side.bears.gust_m_s / (side.local.mean + side.local.spread * (ratio - 1.0)))


def largest_gust(side: Side, mean_m_s: float) -> float:
    """Largest gust, as the weather says it, at a fixed mean; NaN unknown, -inf where the mean
    alone is too much."""
    mean = side.local.mean * mean_m_s
    if _least(side.bears.mean_m_s - mean) < 0.0:
        return -math.inf
    left = _least(np.minimum(side.bears.gust_m_s, side.bears.lee_m_s) - mean)
    return -math.inf if left < 0.0 else mean_m_s + left / side.local.spread


def hard_gust(side: Side, mean_m_s: float) -> float:
    """The same for the aircraft's rating and airspeed alone."""
    left = _least(side.bears.gust_m_s - side.local.mean * mean_m_s)
    return mean_m_s + left / side.local.spread


def _least(values: Array) -> float:
    """The least; NaN where any is."""
    return float(np.min(values, initial=np.inf))


def wind_limits(scene: Scene) -> tuple[WindLimit, ...]:
    """The largest wind from each of eight sides, for the undisturbed flight as it is flown."""
    return tuple(_limit(scene, name, k * math.pi / 4.0) for k, name in enumerate(SIDES))


def _limit(scene: Scene, name: str, from_rad: float) -> WindLimit:
    side, ratio, weather = side_of(scene, from_rad, 1), gust_ratio(scene), scene.day.weather
    read, by = largest_mean(side, ratio)
    reading = local_wind.reading_factor(scene.site, weather, from_rad)
    mean, worst = read / reading, hard_mean(side, ratio) / reading
    if math.isnan(mean):
        return WindLimit(name, from_rad, math.nan, math.nan, -1, "unknown", math.nan)
    hand = math.nan
    if scene.site.launch is not None:
        air = local_wind.at_place(scene.site, weather, "launch", from_rad, HAND_M)
        hand = mean * float(air.factor)
    return WindLimit(name, from_rad, mean, hand, beaufort(mean)[0], by, worst)


def go_if(scene: Scene) -> GoIf | None:
    """The gust the weather may say, with whatever else of the wind it leaves unsaid taken from
    the side that leaves least room; None where no gust is small enough or the ground is unknown."""
    weather = scene.day.weather
    if weather.wind_m_s == 0.0 and weather.wind_from_rad is None:
        return _calm(scene)
    sides = [k * math.pi / 4.0 for k in range(len(SIDES))]
    if weather.wind_from_rad is not None:
        sides = [weather.wind_from_rad]
    found = [_gust_from(scene, side) for side in sides]
    usable = [f for f in found if f is not None]
    if not usable:
        return None
    gust, mean, side = min(usable)
    given: list[tuple[str, float | str]] = []
    if weather.wind_m_s is None:
        given.append(("weather.wind_m_s", mean))
    if weather.wind_from_rad is None:
        given.append(("weather.wind_from_deg", round(math.degrees(side), 1)))
    return GoIf("weather.gust_m_s", "at-most", gust, "m/s", tuple(given))


def _gust_from(scene: Scene, from_rad: float) -> tuple[float, float, float] | None:
    """Gust, mean (both rounded down) and side; None where no gust from there will do."""
    side = side_of(scene, from_rad)
    mean = scene.day.weather.wind_m_s
    if mean is None:
        mean = _down(largest_mean(side, USUAL_GUST)[0])
    if math.isnan(mean):
        return None
    gust = largest_gust(side, mean)
    return (_down(gust), mean, from_rad) if _down(gust) >= mean else None


def _calm(scene: Scene) -> GoIf | None:
    """Gusts in a calm come from any side: against the fastest moment of the flight."""
    velocity = scene.track.velocity_m_s[scene.track.ride.filming]
    spare = scene.aircraft.max_speed_m_s - np.hypot(velocity[..., 0], velocity[..., 1])
    most = min(_least(spare), scene.aircraft.max_wind_m_s) / local_wind.spread(scene.day.weather)
    return None if most < 0.0 else GoIf("weather.gust_m_s", "at-most", _down(most), "m/s")


def _down(value: float) -> float:
    """Rounded to the safe side."""
    return math.floor(value * 100.0) / 100.0 if math.isfinite(value) else value
