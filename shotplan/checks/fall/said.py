"""What is said of where it comes down, and what that is said of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.solids import footprints
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.scene import falls
from shotplan.scene.falls import Drop
from shotplan.scene.margin import GoIf, Remark, Why, Words
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

ROOM_M = 2.0  # a landing nearer than this to somebody is one on them
ENERGY_SOURCE = (
    "14 CFR 107 Subpart D: 14.9 J and 33.9 J (at second hand); EU class C1: 80 J at terminal "
    "velocity (from memory)"
)


class Target(NamedTuple):
    """Somebody who may be hit: a people area, or one of the crew where they stand. `name` short,
    `label` in full; `grown_m`: its error; `crew`: they know what goes on overhead, so it is never
    more than a caution."""

    id: str
    name: str
    label: str
    region: footprints.Region
    grown_m: float
    crew: bool


class Found(NamedTuple):
    """What the falls of the undisturbed ride come to. `rooms_m (t,n)` level distance of landings
    and targets, less what is kept; `hit_s` seconds of flight that could end on each target;
    `blind`, `unlooked`, `blown (n,)`: the ground it falls on is not known, nobody looked for
    people on it, the wind that could carry it onto somebody is not known."""

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


def why(scene: Scene, found: Found, nearest: NDArray[np.intp], go_if: tuple[GoIf, ...]) -> Why:
    """`nearest (n,)` of the targets decides."""
    room, fallen = found.room_m, found.drop
    way = np.linalg.norm(fallen.xyz_m[..., :2] - scene.track.xyz_m[0, :, None, :2], axis=-1)
    nobody = (
        "nobody is drawn or stands where it could come down, up to "
        f"{say.metres(float(np.nanmax(way, initial=0.0)))} from where it stops flying"
    )

    def reason(i: int, spot: str) -> str:
        if not np.isfinite(room[i]):
            return nobody
        away = float(room[i]) + ROOM_M
        where = f"{say.metres(away)} from" if away > 0.0 else "on"
        said = (
            f"if it stops flying {spot}, it may come down {where} "
            f"{found.targets[nearest[i]].label}, "
            f"after {say.seconds(float(np.nanmax(fallen.time_s[i])))} and at "
            f"{say.speed(float(np.nanmax(fallen.speed_m_s[i])))}"
        )
        if room[i] >= 0.0:
            return said
        return f"{said}; {say.seconds(found.hit_s[nearest[i]])} of each take could end there"

    def advice(i: int) -> str:
        target, more = found.targets[nearest[i]], f"{say.rounded_up(-float(room[i])):.1f} m"
        if target.crew:
            return f"let {target.name} stand at least {more} farther from the flight"
        lasts = say.seconds(found.hit_s[nearest[i]])
        away = f"fly at least {more} farther from {target.name}"
        return f"{away}, or have it held or closed for those {lasts}"

    def unknown(i: int, spot: str) -> Words:
        return _unknown(scene, found, i, spot, go_if)

    return told(scene, reason, advice, unknown=unknown, nothing=nobody)


def _unknown(scene: Scene, found: Found, i: int, spot: str, go_if: tuple[GoIf, ...]) -> Words:
    near, weather = f"within {say.metres(ROOM_M)}", scene.day.weather
    if found.unlooked[i]:
        return Words(
            f"nobody looked for people where it comes down if it stops flying {spot}",
            "look there and add people to [survey] looked_for (or a `surveyed` area); go if "
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
        f"{0.5 * scene.aircraft.mass_kg * speed**2:.0f} J (for comparison: 14.9 J and 33.9 J are "
        "limits of two United States categories over people, 80 J one of EU class C1); the number "
        "alone decides nothing",
        source=ENERGY_SOURCE,
    )


def assumptions(scene: Scene) -> tuple[str, ...]:
    """How it is taken to fall."""
    wind, craft = falls.gust_toward_m_s(scene), scene.aircraft
    low, high = (falls.drag_area_m2(craft.span_m, c) for c in falls.DRAG_COEFFICIENTS)
    blows = (
        "still air"
        if wind is None
        else f"still air and the gust as given, {np.hypot(*wind[:2]):.1f} m/s"
    )
    return (
        f"it falls with the speed it has, veering up to {falls.TURNED_DEG[-1]:.0f}° to either "
        f"side, in {blows}; faster wind at an edge is not added",
        f"its drag area is {low:.4f} to {high:.4f} m², an estimate from its span; the rider is "
        "the business of rider-gap; the undisturbed ride is taken",
    )
