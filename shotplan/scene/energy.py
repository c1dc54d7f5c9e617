"""What a take costs: way out, shot and way home, in seconds and watt-hours.

Out and home it climbs straight up, flies level at its greatest following airspeed at the return
height (or at the height of the higher end), and comes straight down. Neglected: accelerating and
braking, turns, gusts during the shot, the wind's growth with height.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from shotplan.kernels.motion import power, wind
from shotplan.model.arrays import Array
from shotplan.scene.scene import Scene

J_PER_WH = 3600.0
MOST_TAKES = 5  # flights to a battery; own setting: one fell on its sixth (AAIB 1/2023)
BEFORE_EACH = "check its voltage, motors running, before each take"
ASSUMPTIONS = (
    "power against airspeed: as in hover up to 0.6 of its greatest airspeed, from there on growing "
    "with the square to 1.6 times that (derived from tilt and drag), or to the aircraft's own "
    "top_speed_w",
    "climbing costs m·g·rate / 0.5 more, sinking gives nothing back",
    "the cold takes 1 % of the battery per degree below 15 °C and 2 % per degree below 0 °C "
    "(about half at -18 °C: a battery reference site)",
    "out and home: straight up, level at the return height (or the height of the higher end) at "
    "the greatest following airspeed, straight down; the wind as given, at every height",
)


class Air(NamedTuple):
    """What it flies in: `wind_m_s`, `gust_m_s (3,)` the vectors the air moves toward, temperature
    (None the standard atmosphere's)."""

    wind_m_s: Array
    gust_m_s: Array
    temperature_c: float | None


@dataclass(frozen=True, kw_only=True)
class Flight:
    """One take of a shot. Seconds, watt-hours; +inf where the wind does not let it home.

    `need_wh (n,)` from take-off to that sample and home again from there in the mean wind,
    `gusty_wh (n,)` the same with the gust blowing all the way home; `wait_w` power while it waits
    in the air; `usable_wh` what a full battery gives down to the reserve (NaN: temperature not
    known).
    """

    out_s: float
    shot_s: float
    home_s: float
    out_wh: float
    shot_wh: float
    home_wh: float
    need_wh: Array
    gusty_wh: Array
    wait_w: float
    usable_wh: float

    @property
    def full_wh(self) -> float:
        """What must be in the battery at take-off, gusts on the way home included where it can
        fly against them at all."""
        most = float(self.gusty_wh.max())
        return most if math.isfinite(most) else float(self.need_wh.max())

    @property
    def take_wh(self) -> float:
        """What one take uses, landed again."""
        return self.out_wh + self.shot_wh + self.home_wh

    @property
    def takes_per_battery(self) -> int:
        """How many takes, each out and home, a full battery gives; at most `MOST_TAKES`."""
        spare = self.usable_wh - self.full_wh
        return 0 if not spare >= 0.0 else min(1 + int(spare / self.take_wh), MOST_TAKES)


def usable_wh(scene: Scene, temperature_c: float) -> float:
    """What a full battery gives before the reserve, at a temperature."""
    craft = scene.aircraft
    cold = power.cold_share(temperature_c)
    return craft.battery_wh * cold * (1.0 - craft.reserve_fraction)


def air_of(scene: Scene) -> Air | None:
    """The air as the site says; None where wind or gust are not known. A gust is never less than
    the mean."""
    weather, blow = scene.day.weather, scene.wind_m_s
    if blow is None or weather.gust_m_s is None:
        return None
    if weather.gust_m_s > 0.0 and weather.wind_from_rad is None:
        return None
    return air(
        float(np.hypot(blow[0], blow[1])),
        weather.gust_m_s,
        weather.wind_from_rad or 0.0,
        weather.temperature_c,
    )


def air(mean_m_s: float, gust_m_s: float, from_rad: float, temperature_c: float | None) -> Air:
    """Mean and gust blowing from one azimuth; a gust is never less than the mean."""
    toward = -np.array([math.sin(from_rad), math.cos(from_rad), 0.0])
    return Air(mean_m_s * toward, max(gust_m_s, mean_m_s) * toward, temperature_c)


def hover_minutes(scene: Scene) -> float:
    """How long a full battery holds it in the mean wind down to the reserve; in calm and warm air
    where the weather or the launch is not known."""
    flight = likely(scene)
    if flight is None or math.isnan(flight.usable_wh):
        craft = scene.aircraft
        return craft.battery_wh * (1.0 - craft.reserve_fraction) / craft.hover_w * 60.0
    return flight.usable_wh / flight.wait_w * 60.0


def likely(scene: Scene) -> Flight | None:
    """One take in the air as known; where wind or gust are not, its times in calm, and what a
    battery gives is not known either. None where the launch is not known."""
    known = air_of(scene)
    return flight_of(scene, air(0.0, 0.0, 0.0, None) if known is None else known)


def flight_of(scene: Scene, flown_in: Air) -> Flight | None:
    """One take of row 0 in that air; None where the launch or its ground is not known."""
    launch = scene.site.launch
    if launch is None or math.isnan(launch.xyz_m[2]):
        return None
    craft, track = scene.aircraft, scene.track
    density = power.air_density_kg_m3(float(launch.xyz_m[2]), flown_in.temperature_c)
    hover_w = power.hover_w(craft.hover_w, density)
    here = np.array(track.xyz_m[0])
    home = np.broadcast_to(launch.xyz_m, here.shape)
    out = _transit(scene, hover_w, home[:1], here[:1], flown_in.wind_m_s)
    back = _transit(scene, hover_w, here, home, flown_in.wind_m_s)
    gusty = _transit(scene, hover_w, here, home, flown_in.gust_m_s)
    shot_wh = _shot_wh(scene, hover_w, flown_in.wind_m_s)
    until = out.energy_wh[0] + shot_wh
    blow = np.array(float(np.hypot(flown_in.wind_m_s[0], flown_in.wind_m_s[1])))
    return Flight(
        out_s=float(out.time_s[0]),
        shot_s=float(track.ride.t_s[-1] - track.ride.t_s[0]),
        home_s=float(back.time_s[-1]),
        out_wh=float(out.energy_wh[0]),
        shot_wh=float(shot_wh[-1]),
        home_wh=float(back.energy_wh[-1]),
        need_wh=until + back.energy_wh,
        gusty_wh=until + np.maximum(gusty.energy_wh, back.energy_wh),
        wait_w=float(_level_w(scene, hover_w, blow)),
        usable_wh=usable_wh(scene, flown_in.temperature_c)
        if flown_in.temperature_c is not None
        else np.nan,
    )


def _level_w(scene: Scene, hover_w: float, airspeed_m_s: Array) -> Array:
    """Power in level flight of an aircraft that hovers at `hover_w` in this air."""
    craft = scene.aircraft
    top = power.AT_TOP if craft.top_speed_w is None else craft.top_speed_w / craft.hover_w
    return hover_w * power.over_hover(airspeed_m_s, craft.max_speed_m_s, top)


class _Transit(NamedTuple):
    """`time_s`, `energy_wh (n,)`; +inf where the wind does not let it there."""

    time_s: Array
    energy_wh: Array


def _transit(
    scene: Scene, hover_w: float, start_m: Array, end_m: Array, blow_m_s: Array
) -> _Transit:
    """Straight up, level, straight down, from `start_m (n, 3)` to `end_m (n, 3)`."""
    craft, launch = scene.aircraft, scene.site.launch
    height = scene.site.return_height_m
    level = np.maximum(start_m[:, 2], end_m[:, 2])
    if height is not None and launch is not None:
        level = np.maximum(level, launch.xyz_m[2] + height)
    way = end_m[:, :2] - start_m[:, :2]
    length = np.hypot(way[:, 0], way[:, 1])
    track_rad = np.arctan2(way[:, 0], way[:, 1])
    made_good = wind.ground_speed(track_rad, np.array(craft.max_speed_m_s), blow_m_s)
    with np.errstate(invalid="ignore"):
        gets_there = made_good > 1e-6
    over_s = np.where(gets_there, length / np.where(gets_there, made_good, 1.0), np.inf)
    over_s = np.where(length > 1e-9, over_s, 0.0)
    climb_s = (level - start_m[:, 2]) / craft.max_climb_m_s
    sink_s = (level - end_m[:, 2]) / craft.max_sink_m_s
    still_w, cruise_w = _level_w(
        scene, hover_w, np.array([np.hypot(blow_m_s[0], blow_m_s[1]), craft.max_speed_m_s])
    )
    climb_w = still_w + power.climb_w(np.array(craft.max_climb_m_s), craft.mass_kg)
    joules = climb_w * climb_s + cruise_w * over_s + still_w * sink_s
    return _Transit(climb_s + over_s + sink_s, joules / J_PER_WH)


def _shot_wh(scene: Scene, hover_w: float, blow_m_s: Array) -> Array:
    """`(n,)` used from the first sample of row 0 to each, by the speed through the air there."""
    track = scene.track
    air = np.array(track.velocity_m_s[0]) - blow_m_s
    watts = _level_w(scene, hover_w, np.hypot(air[:, 0], air[:, 1]))
    watts = watts + power.climb_w(air[:, 2], scene.aircraft.mass_kg)
    steps_s = np.diff(track.ride.t_s)
    joules = np.concatenate([[0.0], np.cumsum(0.5 * (watts[1:] + watts[:-1]) * steps_s)])
    return np.asarray(joules / J_PER_WH)
