"""The wind in words, beside its verdict: from the forecast to the aircraft, the way home, and
the largest wind from each side."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from shotplan.kernels.ground.edges import LEE_HEIGHTS, ONTO_HEIGHTS, ONTO_TOP
from shotplan.kernels.motion.wind import BEAUFORT, STEEP, ground_speed, upright_gust_m_s
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.day import Weather
from shotplan.model.ride import STEP_S
from shotplan.scene import local_wind, wind_limits
from shotplan.scene.local_wind import Local
from shotplan.scene.margin import Remark
from shotplan.scene.scene import Scene

SOURCE = "EN 1991-1-4 wind over ground (at second hand) against the aircraft's limits as given"
UPRIGHT_SOURCE = (
    "mean wind · sin(slope) on a slope, 0.4 of the gust within 10 heights behind a brink: upper "
    "estimates (spread of the upright wind in the lee of hills 0.15 to 0.25 of the mean)"
)
DRIFT_S = 5.0
DRIFT_FAR_M, DRIFT_STEP_M = 300.0, 2.0


class Blow(NamedTuple):
    """The gust where it flies, `gust_m_s (r,n)`; `exact` False where something is not said and
    the gust is only the least it can be."""

    gust_m_s: Array
    exact: bool
    local: Local | None


def who(weather: Weather) -> str:
    """Whose numbers they are, as a subject."""
    if weather.measured_at == "forecast":
        return "the forecast"
    return f"a reading {say.metres(weather.measured_height_m)} up at {weather.measured_at}"


def steps(scene: Scene, blow: Blow) -> tuple[Remark, ...]:
    """From the weather's numbers to the strongest gust where it flies, step by step."""
    weather, local = scene.day.weather, blow.local
    if local is None or weather.wind_m_s is None or np.isnan(blow.gust_m_s[0]).all():
        return ()
    i = int(np.nanargmax(blow.gust_m_s[0]))
    edge = float(local.air.orography[0].max())
    there = float(local.mean[0, i]) * weather.wind_m_s
    gusts = f", gusting {say.speed(float(blow.gust_m_s[0, i]))}" if blow.exact else ""
    given = f" gusting {say.speed(weather.gust_m_s)}" if weather.gust_m_s is not None else ""
    text = (
        f"{who(weather)} says {say.speed(weather.wind_m_s)}{given}; where it blows most, "
        f"{say.metres(float(scene.height_m[0, i]))} up, that is {say.speed(there)}{gusts}; "
        f"an edge lifts it by a factor of {edge:.2f} at most"
    )
    missing = float(local.air.missing_m[0].min())
    if math.isfinite(missing):
        text += (
            f"; the ground is missing {say.metres(missing)} away along the wind: the edges are "
            "taken as far as they are known"
        )
    sheltered = weather.measured_at != "forecast" and bool(_reading_lee(scene))
    shelter = Remark(
        f"the reading at {weather.measured_at} is taken in the lee of a drop and may be too low",
        caution=True,
        source=UPRIGHT_SOURCE,
        advice=f"take it {LEE_HEIGHTS:.0f} times the drop's height from the brink, or "
        "use the forecast",
    )
    return (Remark(text, source=SOURCE), *([shelter] if sheltered else []))


def _reading_lee(scene: Scene) -> bool:
    weather = scene.day.weather
    if weather.wind_from_rad is None:
        return False
    place, up = weather.measured_at, weather.measured_height_m
    sides = (weather.wind_from_rad,)
    return bool(local_wind.at_place(scene.site, place, up, sides, weather.roughness).lee[0])


def home(scene: Scene, blow: Blow) -> tuple[Remark, ...]:
    """Whether it blows onto or off the edge, and what is left of its speed on the way home."""
    weather, local, launch = scene.day.weather, blow.local, scene.site.launch
    if local is None or weather.wind_from_rad is None or not weather.wind_m_s:
        return ()
    air = local.air
    off, on = float(air.off_m[0].max()), float(np.nanmax(air.updraught[0], initial=0.0))
    ways = []
    if on > math.sin(math.atan(STEEP)):
        ways.append("it blows up the slope at the edge (onshore)")
    if off > 0.0:
        ways.append(f"it blows off the brink of a drop of {say.metres(off)} (offshore)")
    text = " and ".join(ways) or "no steep edge is near along the wind"
    text += _onto(blow)
    if launch is None:
        return (Remark(text),)
    to_home = launch.xyz_m[:2] - scene.track.xyz_m[0, :, :2]
    far = int(np.hypot(to_home[:, 0], to_home[:, 1]).argmax())
    east, north = to_home[far]
    mean = float(local.mean[0, far]) * weather.wind_m_s
    if math.isnan(mean):
        return (Remark(text),)
    blows = mean * np.append(local_wind.toward(weather.wind_from_rad), 0.0)
    fast = np.array(scene.aircraft.max_speed_m_s)
    made = float(ground_speed(np.arctan2(east, north), fast, blows))
    distance = math.hypot(east, north)
    against = "against" if blows[0] * east + blows[1] * north < 0.0 else "with"
    if math.isnan(made) or made <= 0.0:
        way = f"from {say.metres(distance)} away it does not make home in it"
    else:
        way = (
            f"home from {say.metres(distance)} away is {against} the wind: {say.speed(made)} over "
            f"the ground, {say.seconds(distance / made)}"
        )
    return (Remark(f"{text}; {way}; {_drift(scene, blows)}"),)


def _drift(scene: Scene, blows_m_s: Array) -> str:
    """Where that wind carries it while it only holds its height, from whatever sample of row 0
    has rising ground nearest downwind (position lost: AAIB, December 2019)."""
    speed = float(np.hypot(*blows_m_s[:2]))
    toward = say.compass(math.atan2(*blows_m_s[:2]))
    ways = np.arange(1.0, DRIFT_FAR_M, DRIFT_STEP_M)
    start = np.array(scene.track.xyz_m[0, :: round(1.0 / STEP_S)])
    xy = start[:, None, :2] + ways[:, None] * blows_m_s[:2] / speed
    into = scene.site.terrain.ground_m(xy) >= start[:, None, 2]
    said = (
        f"if it loses its position it drifts {toward}, {say.metres(DRIFT_S * speed)} in "
        f"{DRIFT_S:.0f} s"
    )
    if not into.any():
        return said
    first = float(ways[into.any(axis=0).argmax()])
    return f"{said}, and into rising ground after {say.metres(first)}: climb it first"


def _onto(blow: Blow) -> str:
    """That air tumbles close behind a brink that the wind meets, where it flies there."""
    if blow.local is None or not (near := blow.local.air.onto_m[0]).any():
        return ""
    high = float(near.max())
    up = say.speed(float(np.nanmax(upright_gust_m_s(blow.gust_m_s[0][near > 0.0]), initial=0.0)))
    return (
        f"; {np.mean(near > 0.0):.0%} of the shot it flies close behind the brink of a face of "
        f"{say.metres(high)} that the wind meets: to {say.metres(ONTO_HEIGHTS * high)} behind it "
        f"and {say.metres(ONTO_TOP * high)} above it the air may tumble, by up to {up} upward and "
        "downward (little is known of it)"
    )


def table(scene: Scene) -> Remark:
    """The largest wind from each of eight sides, in one line, with what one sees of it."""
    limits = wind_limits.wind_limits(scene)
    gusts = wind_limits.gusts_of(scene)
    parts = []
    for limit in limits:
        if math.isnan(limit.mean_m_s):
            parts.append(f"{limit.side} unknown")
            continue
        mean, worst = (say.rounded_down(v, 0.1) for v in (limit.mean_m_s, limit.no_go_m_s))
        hand = "" if math.isnan(limit.hand_m_s) else f"/{say.rounded_down(limit.hand_m_s, 0.1):.1f}"
        why = "" if limit.by.startswith("rating") else f" {limit.by}, no-go over {worst:.1f}"
        parts.append(f"{limit.side} {mean:.1f}{hand} (force {limit.force}{why})")
    seen = sorted({limit.force for limit in limits if limit.force >= 0})
    forces = "; ".join(f"force {force}: {BEAUFORT[force][1]}" for force in seen)
    return Remark(
        "largest mean wind for go from each side, m/s at 10 m in the open/2 m up at the launch, "
        f"gusts {gusts.words}: {', '.join(parts)}" + (f". {forces}" if forces else ""),
        source="Beaufort numbers: WMO, 10-minute mean at 10 m",
        kind="table",
    )
