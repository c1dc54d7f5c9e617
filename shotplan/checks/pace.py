"""Whether it can keep up: how far its limits throw it off where it would fly without them."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.light import camera
from shotplan.kernels.rides.runs import stretches
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.ride import STEP_S
from shotplan.scene import needs
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Told, Why, Words
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

SOURCE = "the same law flown without the aircraft's limits"
CALM = "give [weather]; go if the mean wind where it flies"
LIMITS = ("airspeed", "acceleration", "climb", "sink")
OFF_M, OFF_SHARE = 2.0, 0.2  # of its distance: DEFINITIONS "pace"
WIDTH_SHARE = 0.25  # of the picture, taken as an angle
ON_LINE_M = 0.1  # nearer than this it is where it would be
BEFORE = round(1.0 / STEP_S)  # a limit binds a little before it shows
TURNS_RAD = math.radians(30.0)  # less is no bend
CORNER = round(2.2 / STEP_S)
MANY = 5.0  # shares over this are not told
LEAST_KM_H = 4  # slower than walking pace nobody rides


class _Thrown(NamedTuple):
    """Row 0: `off_m (n,)` from where it would fly without limits; `shares (4, n)` of `LIMITS` that
    takes, the most since it was last on its line."""

    off_m: Array
    shares: Array

    @property
    def most(self) -> NDArray[np.intp]:
        """`(n,)` which limit binds most."""
        return np.asarray(self.shares.argmax(axis=0))

    def stretch(self, i: int) -> slice:
        """The samples about i at which it is off its line."""
        runs = stretches(self.off_m > ON_LINE_M)
        low, high = next((r for r in runs if r[0] <= i < r[1]), (i, i + 1))
        return slice(max(low - BEFORE, 0), high)


def margins(scene: Scene) -> tuple[Margin, ...]:
    """How far its limits throw it off, and how far the camera points beside the rider because it
    turns no faster."""
    return _off(scene), _beside(scene)


def needed(scene: Scene) -> Array:
    """`(4, n)` what flying without limits takes, over what the aircraft has, by `LIMITS` (row 0);
    without a known wind the airspeed is that in calm."""
    free, craft = scene.track if scene.free is None else scene.free, scene.aircraft
    velocity = free.velocity_m_s[0]
    air = velocity if scene.wind_m_s is None else velocity - scene.wind_m_s
    return np.stack(
        [
            np.hypot(air[:, 0], air[:, 1]) / craft.max_speed_m_s,
            free.asked_m_s2[0] / craft.max_accel_m_s2,
            np.maximum(velocity[:, 2], 0.0) / craft.max_climb_m_s,
            np.maximum(-velocity[:, 2], 0.0) / craft.max_sink_m_s,
        ]
    )


def _thrown(scene: Scene) -> _Thrown:
    free = scene.track if scene.free is None else scene.free
    off = np.linalg.norm(scene.track.xyz_m[0] - free.xyz_m[0], axis=-1)
    shares = needed(scene)
    for low, high in stretches(off > ON_LINE_M):
        start = max(low - BEFORE, 0)
        so_far = np.maximum.accumulate(shares[:, start:high], axis=1)
        shares[:, low:high] = so_far[:, low - start :]
    return _Thrown(off, shares)


def _off(scene: Scene) -> Margin:
    thrown, n = _thrown(scene), scene.track.ride.t_s.size
    limit = max(OFF_M, OFF_SHARE * _distance_m(scene))
    return Margin(
        margin=_as_known(scene, limit - thrown.off_m),
        value=thrown.off_m,
        limit=np.full(n, limit),
        thing=np.array([LIMITS[k] for k in thrown.most], dtype=object),
        why=_said(scene, thrown, limit),
        source=SOURCE,
        assumptions=("one even wind, the mean as given; gusts and the edge come separately",),
    )


def _distance_m(scene: Scene) -> float:
    """How far from the rider or its centre the style is set to fly; 0 where it is not."""
    given = (one.number for one in scene.shot.style.moves("out", "wide"))
    return next((metres for metres in given if math.isfinite(metres)), 0.0)


def _as_known(scene: Scene, margin: Array) -> Array:
    """With the wind not known, only what breaks in calm is known to break."""
    return margin if scene.wind_m_s is not None else np.where(margin < 0.0, margin, np.nan)


def _said(scene: Scene, thrown: _Thrown, limit_m: float) -> Why:
    craft = scene.aircraft
    have = (
        say.speed(craft.max_speed_m_s),
        f"{craft.max_accel_m_s2:.1f} m/s²",
        say.speed(craft.max_climb_m_s),
        say.speed(craft.max_sink_m_s),
    )

    def reason(i: int, spot: str) -> str:
        off = float(thrown.off_m[i])
        at = i if off > ON_LINE_M else int(thrown.shares.max(axis=0).argmax())
        which = int(thrown.most[at])
        used = float(thrown.shares[which, at])
        share = f"{used:.0%} of" if used < MANY else f"more than {MANY:.0f} times"
        share += f" the {LIMITS[which]} it has ({have[which]})"
        if off <= ON_LINE_M:
            return f"its limits throw it off nowhere: at most it needs {share}"
        said = f"its limits throw it {say.metres(off)} off its place, {spot}: it needs {share}"
        if off <= limit_m:
            return said
        return f"{said}; from {_metres(scene, thrown.stretch(i))} the rider may leave the picture"

    def unknown(_i: int, spot: str) -> Words:
        if scene.wind_m_s is not None:
            return no_ground(f"the ground is not known at {spot}", "it then keeps up")
        spare = max(float((1.0 - needed(scene)[0].max()) * craft.max_speed_m_s), 0.0)
        return Words(
            "the wind is not known, so neither is the airspeed it needs",
            f"{CALM} stays under {say.speed(say.rounded_down(spare, 0.1))}",
        )

    def advice(i: int) -> str:
        part = thrown.stretch(i)
        return _cure(scene, i, int(thrown.most[i]), float(thrown.shares[:, i].max()), part)

    return told(scene, reason, advice, unknown=unknown)


def _metres(scene: Scene, part: slice) -> str:
    along = scene.track.ride.along_m[0, part]
    return f"{math.floor(along[0])} to {math.ceil(along[-1])} m"


def _cure(scene: Scene, i: int, which: int, used: float, part: slice) -> str:
    """A slower ride or another side, with numbers; a slower flight where it is flown on its own."""
    there = _metres(scene, part)
    if scene.wish is not None and not scene.wish.follows_rider:
        return _own_cure(scene, LIMITS[which], used, there)
    slower = {0: _slower(scene, part), 1: used**-0.5}.get(which, 1.0 / used)
    ridden, course = scene.track.ride.speed_m_s[0, part], scene.track.ride.course_rad[0, part]
    pace = math.floor(slower * float(ridden.max()) * 3.6)
    cures = []
    if pace >= LEAST_KM_H and (which != 1 or not _corner(course)):
        cures.append(f"ride at most about {pace} km/h from {there}")
    elif which == 0:
        most = say.speed(scene.aircraft.max_speed_m_s)
        cures.append(f"wait for less wind: it flies {most} at most")
    away = scene.track.xyz_m[0, i] - scene.track.ride.xyz_m[0, i]
    held = scene.shot.style.held_side(math.atan2(away[0], away[1]))
    if held and np.ptp(np.unwrap(course)) > TURNS_RAD:
        cures.append(f"set `{held}`: then it does not swing round in the bend")
    if not cures or part.stop - part.start < scene.track.ride.t_s.size - BEFORE:
        cures.append(f"leave out {there} (`from_m`, `to_m`)")
    return ", or ".join(cures)


def _corner(course_rad: Array) -> bool:
    """Whether he turns in one spot: the course, taken over 2 s, then swings in 2 s however slowly
    he rides."""
    turned = np.unwrap(course_rad)
    at_once = np.abs(turned[CORNER:] - turned[:-CORNER]).max(initial=0.0)
    return bool(np.ptp(turned) > TURNS_RAD and at_once > 0.9 * np.ptp(turned))


def _slower(scene: Scene, part: slice) -> float:
    """The share of its speed at which it has the airspeed all along, in that wind; 0 where the
    wind alone is more."""
    free, most = scene.track if scene.free is None else scene.free, scene.aircraft.max_speed_m_s
    moving = free.velocity_m_s[0, part, :2]
    wind = np.zeros(2) if scene.wind_m_s is None else scene.wind_m_s[:2]
    spare = most**2 - float(wind @ wind)
    if spare < 0.0:
        return 0.0
    with_wind, square = moving @ wind, np.maximum((moving**2).sum(axis=-1), 1e-9)
    return float(((with_wind + np.sqrt(with_wind**2 + square * spare)) / square).min())


def _own_cure(scene: Scene, what: str, used: float, there: str) -> str:
    """For a flight that does not follow the rider: its own speed, or more room to turn."""
    fast = scene.shot.style.moves("fast")
    speed = fast[0].number if fast else 0.0
    if what == "airspeed":
        slower = speed - (used - 1.0) * scene.aircraft.max_speed_m_s
    else:
        slower = speed * (used**-0.5 if what == "acceleration" else 1.0 / used)
    slower = math.floor(slower * 10.0) / 10.0
    if fast and slower > 0.0:
        return f"fly it slower: `{fast[0].key} = {slower:g}`"
    if what == "airspeed":
        most = say.speed(scene.aircraft.max_speed_m_s)
        return f"wait for less wind: with {most} it is too slow however slowly this is flown"
    return f"leave out {there} (`from_m`, `to_m`), or wait for calmer air"


def _beside(scene: Scene) -> Margin:
    """The angle between where the camera should point and where it can have turned to; told only
    where it is too large, so that the metres are what is read otherwise."""
    craft, track = scene.aircraft, scene.track
    wanted = np.unwrap(track.camera_azimuth_rad[0])
    lag = np.degrees(np.abs(wanted - camera.turned_rad(wanted, craft.max_yaw_rad_s * STEP_S)))
    limit = WIDTH_SHARE * math.degrees(craft.camera.horizontal_fov_rad)
    rate = np.abs(np.gradient(wanted, STEP_S)) / craft.max_yaw_rad_s if len(wanted) > 1 else lag
    have = f"{math.degrees(craft.max_yaw_rad_s):.0f}°/s"

    def part(i: int) -> slice:
        low, high = next(r for r in stretches(lag > 1.0) if r[0] <= i < r[1])
        return slice(max(low - BEFORE, 0), high)

    def advice(i: int) -> str:
        there = _metres(scene, part(i))
        times = say.rounded_up(float(rate[part(i)].max()), 0.1)
        return (
            f"fly it {times:.1f} times as far from the rider there, ride slower, or leave out "
            f"{there} (`from_m`, `to_m`)"
        )

    why = told(
        scene,
        lambda i, spot: (
            f"the camera points {lag[i]:.0f}° beside what it should show, {spot}: it turns at "
            f"{have} at most; from {_metres(scene, part(i))} the rider may leave the picture"
        ),
        advice,
        unknown=Words("the wind is not known"),
    )
    return Margin(
        margin=np.where(lag > limit, limit - lag, np.inf),
        value=lag,
        limit=np.full(len(lag), limit),
        thing=np.full(len(lag), "yaw rate", dtype=object),
        why=why,
        unit="°",
        source=SOURCE,
    )


CHECK = Check(
    id="pace",
    family="picture",
    group="place",
    question="does it keep up?",
    unit="m",
    shown=AGAINST,
    told=Told("it does not keep up, {thing}", strays=""),
    nature=Nature(hits="nothing", placed=False, by_style=False, searched="once"),
    margins=margins,
    wind="none",
    rides="first",
    pointwise=False,
    binds="at-most",
    lifts="a slower ride, or an hour with less wind",
    needs=(needs.WIND, needs.WIND_FROM),
)
