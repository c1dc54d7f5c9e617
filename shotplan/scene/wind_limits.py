"""How much wind a shot bears: largest mean for each direction, largest gust where one is missing.

Everything is closed form: with the mean and the gust as the weather says them, the gust where it
flies is `mean · factor + spread · (gust - mean)`, and every limit is one on that or on the mean.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from shotplan.kernels.motion import wind
from shotplan.kernels.motion.wind import beaufort
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.scene import local_wind
from shotplan.scene.local_wind import Local
from shotplan.scene.margin import GoIf
from shotplan.scene.once import once
from shotplan.scene.scene import Scene

SIDES = say.COMPASS[::2]
WARY_LEE = 0.5  # of the lesser of climb and sink: from here on a caution, over it a no-go
WARY_LIFT = 2.0 / 3.0  # of its sink, the same
TURN_RAD = math.radians(45.0 - 1e-6)  # a forecast's direction is no surer (common practice)
HAND_M = 2.0
LEAST_MEAN_M_S = 1.0  # below it gust over mean says nothing


class Gusts(NamedTuple):
    """How gusts go with the mean: so many times it, and at least so much over it."""

    ratio: float
    least_m_s: float

    def of(self, mean_m_s: float) -> float:
        """The gust over a mean."""
        return max(self.ratio * mean_m_s, mean_m_s + self.least_m_s)

    @property
    def words(self) -> str:
        """`1.7 times it, at least 3 m/s over it`."""
        least = f", at least {self.least_m_s:g} m/s over it" if self.least_m_s else ""
        return f"{self.ratio:.2f} times it".replace("0 times", " times") + least


USUAL = Gusts(wind.GUST_RATIO, wind.GUST_MORE_M_S)
USUAL_SOURCE = (
    f"gusts that nobody gave are taken as {USUAL.words} where the mean stands: the middle; one "
    "hour in twenty is over 2.2 times (WMO/TD-1555, in-land 1.66; inland hours counted)"
)


class Bears(NamedTuple):
    """Limits at points `(...)`. Of the gust where it flies: `gust_m_s` for the aircraft's rating
    and its greatest airspeed, `lee_m_s` for the upright gusts of the lee, `fading_m_s` of those
    farther behind it (+inf elsewhere). Of the mean there: `mean_m_s` for the updraught (+inf where
    nothing rises). A share of the last three (`WARY_LEE`, `WARY_LIFT`) is a caution already, of
    `fading_m_s` never more than that."""

    gust_m_s: float
    lee_m_s: Array
    fading_m_s: Array
    mean_m_s: Array

    @property
    def wary_gust_m_s(self) -> Array:
        """Over this gust where it flies the word is not go any more."""
        lee = WARY_LEE * np.minimum(self.lee_m_s, self.fading_m_s)
        return np.minimum(self.gust_m_s, lee)

    @property
    def hard_gust_m_s(self) -> Array:
        """Over this it is no-go."""
        return np.minimum(self.gust_m_s, self.lee_m_s)


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
    return Side(from_rad, local, _bears(scene, local.air))


def most_gust_m_s(scene: Scene) -> float:
    """The lesser of its rating and its greatest airspeed."""
    return min(scene.aircraft.max_wind_m_s, scene.aircraft.max_speed_m_s)


def most_upright_m_s(scene: Scene) -> float:
    """The lesser of climb and sink: what it can fly against, up or down."""
    return min(scene.aircraft.max_climb_m_s, scene.aircraft.max_sink_m_s)


def _bears(scene: Scene, air: local_wind.Air) -> Bears:
    tumbling = most_upright_m_s(scene) / wind.UPRIGHT
    with np.errstate(divide="ignore"):
        mean = np.where(air.updraught > 0.0, scene.aircraft.max_sink_m_s / air.updraught, np.inf)
    return Bears(
        most_gust_m_s(scene),
        np.where(air.lee, tumbling, np.inf),
        np.where(air.fading, tumbling, np.inf),
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


def gusts_of(scene: Scene) -> Gusts:
    """Gust over mean as the weather says it, else the usual one."""
    mean, gust = scene.day.weather.wind_m_s, scene.day.weather.gust_m_s
    if mean is None or gust is None or mean < LEAST_MEAN_M_S:
        return USUAL
    return Gusts(max(gust / mean, 1.0), 0.0)


def largest_mean(side: Side, gusts: Gusts) -> tuple[float, str]:
    """Largest mean, as the weather says it, for go; and what decides. 0 where none is."""
    bears, mean = side.bears, side.local.mean
    lee = WARY_LEE * np.minimum(bears.lee_m_s, bears.fading_m_s)
    found = {
        "rating or airspeed": _largest(side, bears.gust_m_s, gusts),
        "lee": _largest(side, lee, gusts),
        "updraught": _least(WARY_LIFT * bears.mean_m_s / mean),
    }
    if any(math.isnan(value) for value in found.values()):
        return math.nan, "unknown"
    by = min(found, key=lambda name: found[name])
    return found[by], by


def hard_mean(side: Side, gusts: Gusts) -> float:
    """The largest mean that is not no-go."""
    lifted = _least(side.bears.mean_m_s / side.local.mean)
    return float(np.minimum(_largest(side, side.bears.hard_gust_m_s, gusts), lifted))


def _largest(side: Side, gust_m_s: Array | float, gusts: Gusts) -> float:
    """The largest mean whose gusts stay under `gust_m_s` where it flies."""
    mean, spread = side.local.mean, side.local.spread
    by_ratio = _least(gust_m_s / (mean + spread * (gusts.ratio - 1.0)))
    by_least = _least((gust_m_s - spread * gusts.least_m_s) / mean)
    return float(np.maximum(np.minimum(by_ratio, by_least), 0.0))


def largest_gust(side: Side, mean_m_s: float) -> float:
    """Largest gust for go, as the weather says it, at a fixed mean; NaN unknown, -inf where the
    mean alone is too much."""
    return _gust(side, mean_m_s, side.bears.wary_gust_m_s, WARY_LIFT * side.bears.mean_m_s)


def hard_gust(side: Side, mean_m_s: float) -> float:
    """The same for what is not no-go."""
    return _gust(side, mean_m_s, side.bears.hard_gust_m_s, side.bears.mean_m_s)


def _gust(side: Side, mean_m_s: float, gusts_m_s: Array, means_m_s: Array) -> float:
    mean = np.zeros_like(side.local.mean) if mean_m_s == 0.0 else side.local.mean * mean_m_s
    if _least(means_m_s - mean) < 0.0:
        return -math.inf
    left = _least(gusts_m_s - mean)
    return -math.inf if left < 0.0 else mean_m_s + left / side.local.spread


def _least(values: Array) -> float:
    """The least; NaN where any is."""
    return float(np.min(values, initial=np.inf))


@once
def eight(scene: Scene) -> tuple[Side, ...]:
    """Winds from eight sides over the undisturbed flight."""
    return tuple(side_of(scene, k * math.pi / 4.0, 1) for k in range(len(SIDES)))


@once
def wind_limits(scene: Scene) -> tuple[WindLimit, ...]:
    """The largest wind from each of eight sides, for the undisturbed flight as it is flown."""
    return _limits(scene, dict(zip(SIDES, eight(scene), strict=True)))


@once
def planned(scene: Scene) -> WindLimit | None:
    """The same from the side the weather says; None where it says none."""
    blows = scene.day.weather.wind_from_rad
    if blows is None:
        return None
    return _limits(scene, {say.compass(blows): side_of(scene, blows, 1)})[0]


def turned(scene: Scene) -> tuple[WindLimit, ...]:
    """The sides within 45 degrees of the planned one from which the forecast mean is no-go."""
    blows, mean = scene.day.weather.wind_from_rad, scene.day.weather.wind_m_s
    if blows is None or mean is None:
        return ()
    near = [
        one for one in wind_limits(scene) if math.cos(one.from_rad - blows) > math.cos(TURN_RAD)
    ]
    return tuple(one for one in near if one.no_go_m_s < mean)


def _limits(scene: Scene, sides: dict[str, Side]) -> tuple[WindLimit, ...]:
    in_hand = np.full(len(sides), np.nan)
    if scene.site.launch is not None:
        froms, rough = [side.from_rad for side in sides.values()], scene.day.weather.roughness
        in_hand = local_wind.at_place(scene.site, "launch", HAND_M, froms, rough).factor
    return tuple(
        _limit(scene, name, side, float(factor))
        for (name, side), factor in zip(sides.items(), in_hand, strict=True)
    )


def _limit(scene: Scene, name: str, side: Side, in_hand: float) -> WindLimit:
    from_rad, gusts, weather = side.from_rad, gusts_of(scene), scene.day.weather
    read, by = largest_mean(side, gusts)
    reading = local_wind.reading_factor(scene.site, weather, from_rad)
    mean, worst = read / reading, hard_mean(side, gusts) / reading
    if math.isnan(mean):
        return WindLimit(name, from_rad, math.nan, math.nan, -1, "unknown", math.nan)
    return WindLimit(name, from_rad, mean, mean * in_hand, beaufort(mean)[0], by, worst)


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
        mean = _down(largest_mean(side, USUAL)[0])
    if math.isnan(mean):
        return None
    gust = largest_gust(side, mean)
    return (_down(gust), mean, from_rad) if _down(gust) >= mean else None


def _calm(scene: Scene) -> GoIf | None:
    """Gusts in a calm come from any side."""
    most = most_gust_m_s(scene) / local_wind.spread(scene.day.weather)
    return GoIf("weather.gust_m_s", "at-most", _down(most), "m/s")


def _down(value: float) -> float:
    """Rounded to the safe side."""
    return math.floor(value * 100.0) / 100.0 if math.isfinite(value) else value
