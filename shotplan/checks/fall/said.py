"""What is said of where it comes down, and what that is said of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.motion import setpoints
from shotplan.kernels.solids import footprints
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.site import Kind
from shotplan.scene import falls
from shotplan.scene.falls import Drop
from shotplan.scene.margin import GoIf, Remark, Why, Words
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

ROOM_M = 2.0  # a landing nearer than this to somebody is one on them
HEAD_J = 80.0
LOOKED_FOR: tuple[Kind, ...] = ("people", "wildlife")
ENERGY_SOURCE = (
    "14 CFR 107 Subpart D: 14.9 J and 33.9 J (at second hand); Delegated Regulation (EU) 2019/945, "
    "Annex, Part 2 (1), class C1: less than 80 J transmitted to a head (at second hand)"
)


class Target(NamedTuple):
    """Who may be hit: the rider, a people area, one of the crew where they stand, animals. `name`
    short, `label` in full; `grown_m`: its error. The `region` of the rider is about himself."""

    id: str
    name: str
    label: str
    region: footprints.Region
    grown_m: float
    kind: Literal["rider", "people", "crew", "wildlife"]


class Found(NamedTuple):
    """What the falls of the undisturbed ride come to. `rooms_m (t,n)` level distance of landings
    and targets, less what is kept; `hit_s` seconds of flight that could end on each target;
    `blind`, `unlooked`, `blown (n,)`: the ground it falls on is not known, nobody looked for
    people and animals on it, the wind that could carry it onto somebody is not known."""

    drop: Drop
    targets: Sequence[Target]
    rooms_m: Array
    hit_s: Sequence[float]
    blind: Bools
    unlooked: Bools
    blown: Bools

    @property
    def room_m(self) -> Array:
        """`(n,)` of the nearest target; +inf none."""
        return np.asarray(self.rooms_m.min(axis=0, initial=np.inf))

    @property
    def unknown(self) -> Bools:
        """Where it cannot be said that nobody is hit, and nobody is known to be."""
        return (self.blind | self.unlooked | self.blown) & ~(self.room_m < 0.0)


def gust_m_s(scene: Scene) -> float:
    """The gust, or, where it is not known, the most wind the aircraft is rated for."""
    gust = scene.day.weather.gust_m_s
    return scene.aircraft.max_wind_m_s if gust is None else gust


def energy_j(scene: Scene, drop: Drop) -> Array:
    """`(n,)` the most it may land with; 0 where no landing is known."""
    speed = np.nanmax(drop.speed_m_s, axis=1, initial=0.0)
    return np.asarray(0.5 * scene.aircraft.mass_kg * speed**2)


def why(scene: Scene, found: Found, nearest: NDArray[np.intp], go_if: tuple[GoIf, ...]) -> Why:
    """`nearest (n,)` of the targets decides."""
    fallen, room = found.drop, found.rooms_m[nearest, np.arange(len(nearest))]
    joules = energy_j(scene, fallen)

    def reason(i: int, spot: str) -> str:
        away = float(room[i]) + ROOM_M
        where = f"{say.metres(away)} from" if away > 0.0 else "on"
        head = joules[i] >= HEAD_J and found.targets[nearest[i]].kind != "wildlife"
        over = f" ({HEAD_J:.0f} J is the limit for a head)" if head else ""
        said = (
            f"if it stops flying {spot}, it may come down {where} "
            f"{found.targets[nearest[i]].label}, "
            f"after {say.seconds(float(np.nanmax(fallen.time_s[i])))}, at "
            f"{say.speed(float(np.nanmax(fallen.speed_m_s[i])))} and with {joules[i]:.0f} J{over}"
        )
        if room[i] >= 0.0:
            return said
        return f"{said}; {say.seconds(found.hit_s[nearest[i]])} of each take could end there"

    def advice(i: int) -> str:
        target, more = found.targets[nearest[i]], f"{say.rounded_up(-float(room[i])):.1f} m"
        if target.kind == "rider":
            return _off_the_rider(scene, fallen, i)
        if target.kind == "crew":
            return f"let {target.name} stand at least {more} farther from the flight"
        away = f"fly at least {more} farther from {target.name}"
        if target.kind == "wildlife":
            return away
        lasts = say.seconds(found.hit_s[nearest[i]])
        return f"{away}, or have it held or closed for those {lasts}"

    def unknown(i: int, spot: str) -> Words:
        return _unknown(scene, found, i, spot, go_if)

    return told(scene, reason, advice, unknown=unknown)


def _off_the_rider(scene: Scene, drop: Drop, i: int) -> str:
    """How much farther off it does not fall on him: out from where it flies, or from above him to
    the side."""
    ride = scene.track.ride
    flown = scene.track.xyz_m if scene.wish is None else scene.wish.camera_xyz_m
    meant, off = (xyz[0, i, :2] - ride.xyz_m[0, i, :2] for xyz in (flown, scene.track.xyz_m))
    above = min(np.hypot(*meant), np.hypot(*off)) < ROOM_M + scene.aircraft.half_span_m
    beside = setpoints.unit(ride.course_rad[0, i] - 0.5 * np.pi)
    side = beside if above else off / np.hypot(*off)
    nearest = float(np.nanmin(drop.from_rider_m[i] @ side))
    more = say.rounded_up(ROOM_M + scene.aircraft.half_span_m - nearest)
    if above:
        return (
            f"fly it at least {more:.1f} m to the rider's side: from above him it comes down on "
            "him at whatever height it flies"
        )
    return f"fly it at least {more:.1f} m farther from the rider"


def _unknown(scene: Scene, found: Found, i: int, spot: str, go_if: tuple[GoIf, ...]) -> Words:
    near, weather = f"within {say.metres(ROOM_M)}", scene.day.weather
    if found.unlooked[i]:
        looked = {kind for area in scene.site.surveyed for kind in area.looked_for}
        lacks = " and ".join(k for k in LOOKED_FOR if k not in looked) or " and ".join(LOOKED_FOR)
        return Words(
            f"nobody looked for {lacks} where it comes down if it stops flying {spot}",
            f"look there and add {lacks} to [survey] looked_for (or a `surveyed` area); go if "
            f"nobody may be {near} of it",
        )
    if found.blind[i] or not found.blown[i]:
        what = f"the ground it would fall on is not known, {spot}"
        return no_ground(what, f"nobody is then {near} of it")
    given = {"gust_m_s": weather.gust_m_s, "wind_from": weather.wind_from_rad}
    lacks = " and ".join(key for key, value in given.items() if value is None)
    return Words(
        f"without {lacks} it is not known where it comes down: {say.speed(gust_m_s(scene))} "
        f"could carry it onto somebody, or to where nobody looked, if it stops flying {spot}",
        f"give [weather] {lacks}; {go_if[0].text if go_if else f'go if nobody is then {near}'}",
        go_if,
    )


def energy(scene: Scene, drop: Drop) -> Remark:
    """With what it hits the ground."""
    speed = float(np.nanmax(drop.speed_m_s, initial=0.0))
    return Remark(
        f"it hits the ground at up to {say.speed(speed)}, with "
        f"{energy_j(scene, drop).max(initial=0.0):.0f} J. That is the energy of landing, the most "
        f"that may reach a head: from {HEAD_J:.0f} J on (the limit of EU class C1 for a head) a "
        "landing on a person is no-go; 14.9 J and 33.9 J are limits of two United States "
        "categories over people",
        source=ENERGY_SOURCE,
    )


def assumptions(scene: Scene) -> tuple[str, ...]:
    """How it is taken to fall."""
    wind, craft = falls.gust_toward_m_s(scene), scene.aircraft
    low, high = (falls.drag_area_m2(craft.span_m, c) for c in falls.DRAG_COEFFICIENTS)
    celsius = scene.day.weather.temperature_c
    warm = "its own temperature" if celsius is None else f"{celsius:g} °C as given"
    blows = (
        "still air"
        if wind is None
        else f"still air and the gust as given, {np.hypot(*wind[:2]):.1f} m/s"
    )
    return (
        f"it falls with the speed it has, veering up to {falls.TURNED_DEG[-1]:.0f}° to either "
        f"side, in {blows}; faster wind at an edge is not added",
        f"its drag area is {low:.4f} to {high:.4f} m², an estimate from its span, in air of "
        f"{falls.air_kg_m3(scene):.3f} kg/m³ (ICAO standard atmosphere at the ride's elevation, "
        f"{warm})",
        "the rider rides on as in the undisturbed ride, or makes a firm stop from the moment it "
        "fails, or anything between; past the end of the shot he goes straight on",
    )
