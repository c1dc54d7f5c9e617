"""Where it comes down if it stops flying, and who may be there."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.solids import footprints
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.ride import STEP_S
from shotplan.model.verdict import Verdict
from shotplan.scene import falls
from shotplan.scene.falls import Drop
from shotplan.scene.holding import STEP_M, called, held, region
from shotplan.scene.margin import Check, Drawing, GoIf, Margin, Remark, Words
from shotplan.scene.scene import Scene

ROOM_M = 2.0  # a landing nearer than this to somebody is one on them
LONG_S = 5.0
SIDES = 8  # from which an unknown wind is tried
GUST_STEP_M_S = 0.02
FEW = 40
SOURCE = (
    "point mass with quadratic drag, integrated; tumbling C_d 0.7 to 1.0 (at second hand); the "
    "30° to either side, the 2 m and the 5 s are own settings"
)
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


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Level distance from where it would come down to who may be there (undisturbed ride)."""
    found = _found(scene)
    room, n = found.room_m, found.room_m.size
    nearest = found.rooms_m.argmin(axis=0) if found.targets else np.zeros(n, dtype=np.intp)
    reached = np.isfinite(room)
    return (
        Margin(
            margin=hard_m(scene, found)[None],
            soft=room[None],
            value=np.where(reached, room + ROOM_M, np.nan),
            limit=np.full(n, ROOM_M),
            thing=np.array(
                [found.targets[t].id if r else "" for t, r in zip(nearest, reached, strict=True)],
                dtype=object,
            ),
            why=_why(scene, found, nearest, _go_if(scene, found)),
            remarks=(_energy(scene, found.drop),),
            assumptions=_assumptions(scene),
            drawings=tuple(
                Drawing("where it comes down if it stops", ring)
                for ring in footprints.swept(found.drop.xyz_m[..., :2], scene.aircraft.half_span_m)
            ),
            source=SOURCE,
        ),
    )


def hard_m(scene: Scene, found: Found) -> Array:
    """`(n,)` what refuses a shot: landings on those over whom it is too long; NaN unknown."""
    grave = np.where(_grave(scene, found)[:, None], found.rooms_m, np.inf)
    worst = grave.min(axis=0, initial=np.inf)
    hard = np.where(worst < 0.0, worst, np.maximum(found.room_m, 0.0))
    return np.where(found.unknown, np.nan, hard)


def _found(scene: Scene) -> Found:
    n = scene.blind.shape[1]
    wind = falls.gust_toward_m_s(scene)
    drop = falls.drop(scene, np.arange(n), [np.zeros(3), *([wind] if wind is not None else [])])
    found = landed(scene, drop)
    return found if wind is not None else found._replace(blown=_blown(scene, drop, found.targets))


def landed(scene: Scene, drop: Drop) -> Found:
    """What falls of some samples come to, if the wind is known."""
    targets = _targets(scene, drop)
    rooms = _rooms(scene, drop, targets)
    blind = np.asarray(np.isnan(drop.time_s).any(axis=1))
    return Found(
        drop,
        targets,
        rooms,
        [float((room < 0.0).sum() * STEP_S) for room in rooms],
        blind,
        ~blind & ~_looked(scene, drop),
        np.zeros(len(blind), dtype=bool),
    )


def _targets(scene: Scene, drop: Drop) -> list[Target]:
    """Who may be hit. What is closed, or held so that nobody is there, is left out; the rider is
    the business of rider-gap."""
    found = []
    for area in scene.site.people:
        target = Target(area.id, called(area), called(area), region(area), area.error_m, False)
        if area.state == "closed" or (area.state == "held" and _kept_empty(scene, drop, target)):
            continue
        found.append(target)
    for person in scene.day.crew:
        place = scene.stand_of(person)
        if place is None or "rider" in person.roles:
            continue
        spot = footprints.Region((place.xyz_m[None, :2],), False)
        found.append(
            Target(place.id, person.name, f"{person.name} at {place.label}", spot, 0.0, True)
        )
    return found


def _kept_empty(scene: Scene, drop: Drop, target: Target) -> bool:
    """Whether whoever holds an area holds the part of it on which it could come down."""
    area = next(a for a in scene.site.people if a.id == target.id)
    points = footprints.spread(target.region, STEP_M)
    less = target.grown_m + scene.aircraft.half_span_m + ROOM_M + 0.5 * STEP_M
    near = np.zeros(len(points), dtype=bool)
    for hull in footprints.swept(drop.xyz_m[..., :2], less):
        near |= footprints.inside_m((hull,), points) >= 0.0
    return not near.any() or held(scene, area, points[near]).holds


def _rooms(scene: Scene, drop: Drop, targets: Sequence[Target]) -> Array:
    """`(t,n)` level distance from the landings to each target, less what is kept (+inf: no
    landing is known)."""
    rooms = np.full((len(targets), len(drop.xyz_m)), np.inf)
    for index, target in enumerate(targets):
        less = target.grown_m + scene.aircraft.half_span_m + ROOM_M
        away = footprints.hulls_to_m(drop.xyz_m[..., :2], target.region) - less
        rooms[index] = np.where(np.isnan(away), np.inf, away)
    return rooms


def _looked(scene: Scene, drop: Drop) -> Bools:
    """`(n,)` whether somebody looked for people wherever it may come down (as far as known)."""
    known = np.isfinite(drop.time_s)
    looked = scene.site.looked(np.where(known[..., None], drop.xyz_m, 0.0)[..., :2], ("people",))
    return np.asarray((looked | ~known).all(axis=1))


def _gust_m_s(scene: Scene) -> float:
    """The gust, or, where it is not known, the most wind the aircraft is rated for."""
    gust = scene.day.weather.gust_m_s
    return scene.aircraft.max_wind_m_s if gust is None else gust


def _sides(scene: Scene) -> list[float]:
    """Where the wind may come from, radians."""
    known = scene.day.weather.wind_from_rad
    return [known] if known is not None else list(np.arange(SIDES) * 2.0 * np.pi / SIDES)


def _blown(scene: Scene, still: Drop, targets: Sequence[Target]) -> Bools:
    """`(n,)` where a wind that is not known, tried from all sides, could carry it onto somebody
    or to where nobody looked."""
    winds = [_gust_m_s(scene) * falls.toward(side) for side in _sides(scene)]
    blown = falls.drop(scene, np.arange(scene.blind.shape[1]), winds)
    return np.asarray(~_spared(scene, still.beside(blown), targets))


def _spared(scene: Scene, drop: Drop, targets: Sequence[Target]) -> Bools:
    """`(n,)` where it is known that nobody is hit."""
    clear = (_rooms(scene, drop, targets) >= 0.0).all(axis=0)
    return np.asarray(clear & np.isfinite(drop.time_s).all(axis=1) & _looked(scene, drop))


def _go_if(scene: Scene, found: Found) -> tuple[GoIf, ...]:
    """The greatest gust with which nobody is hit, if only the wind is in doubt: from the side it
    is worst from."""
    samples = np.flatnonzero(found.blown)
    if not len(samples) or (found.blind | found.unlooked | (found.room_m < 0.0)).any():
        return ()
    worst, least = 0.0, math.inf
    for side in _sides(scene):
        gust = _greatest_gust_m_s(scene, found, samples, side, min(_gust_m_s(scene), least))
        if gust is not None:
            worst, least = side, gust
    if math.isinf(least):
        return ()
    known = scene.day.weather.wind_from_rad is not None
    given = () if known else (("weather.wind_from_deg", round(math.degrees(worst), 1)),)
    value = round(say.rounded_down(least, 0.1), 1)
    return (GoIf("weather.gust_m_s", "at-most", value, "m/s", given),)


def _greatest_gust_m_s(
    scene: Scene, found: Found, samples: NDArray[np.intp], side: float, most_m_s: float
) -> float | None:
    """The greatest gust from one side with which nobody is hit, by halving; None: `most_m_s` does
    not hit. Few samples at a time: a gust that spares them is tried on all."""

    def hits(some: NDArray[np.intp], gust_m_s: float) -> NDArray[np.intp]:
        blown = falls.drop(scene, some, [gust_m_s * falls.toward(side)])
        return some[~_spared(scene, found.drop.at(some).beside(blown), found.targets)]

    gust, hit = most_m_s, hits(samples, most_m_s)
    if not len(hit):
        return None
    while len(hit) and gust > GUST_STEP_M_S:
        few = hit[:: 1 + len(hit) // FEW]
        low, high = 0.0, gust
        while high - low > GUST_STEP_M_S:
            middle = 0.5 * (low + high)
            low, high = (low, middle) if len(hits(few, middle)) else (middle, high)
        gust, hit = low, hits(samples, low)
    return gust


def _grave(scene: Scene, found: Found) -> Bools:
    """`(t,)` targets over which it is too long: people who are not of the crew, for more than 5 s,
    where the pack does not let it pass over them."""
    rule = scene.rules.people
    strict = rule is not None and rule.passing == "no-go"
    long = [
        strict and not t.crew and s > LONG_S
        for t, s in zip(found.targets, found.hit_s, strict=True)
    ]
    return np.array(long, dtype=bool)


def _why(
    scene: Scene, found: Found, nearest: NDArray[np.intp], go_if: tuple[GoIf, ...]
) -> Callable[[int, Verdict], Words]:
    along, t = scene.track.ride.along_m[0], scene.track.ride.t_s
    flown = scene.track.xyz_m[0, :, None, :2]

    def why(i: int, verdict: Verdict) -> Words:
        spot = say.place(float(along[max(i, 0)]), float(t[max(i, 0)]))
        if verdict == Verdict.UNKNOWN:
            return _unknown(scene, found, i, spot, go_if)
        if i < 0 or not np.isfinite(found.room_m[i]):
            way = np.linalg.norm(found.drop.xyz_m[..., :2] - flown, axis=-1)
            return Words(
                "nobody is drawn or stands where it could come down, up to "
                f"{say.metres(float(np.nanmax(way)))} from where it stops flying",
                "nothing to change",
            )
        target, fallen = found.targets[nearest[i]], found.drop
        away = float(found.room_m[i]) + ROOM_M
        where = f"{say.metres(away)} from" if away > 0.0 else "on"
        reason = (
            f"if it stops flying {spot}, it may come down {where} {target.label}, "
            f"after {say.seconds(float(np.nanmax(fallen.time_s[i])))} and at "
            f"{say.speed(float(np.nanmax(fallen.speed_m_s[i])))}"
        )
        if found.room_m[i] >= 0.0:
            return Words(reason, "nothing to change")
        lasts = say.seconds(found.hit_s[nearest[i]])
        more = say.rounded_up(-float(found.room_m[i]))
        return Words(
            f"{reason}; {lasts} of each take could end there",
            f"let {target.name} stand at least {more:.1f} m farther from the flight"
            if target.crew
            else f"fly at least {more:.1f} m farther from {target.name}, or have it held or closed "
            f"for those {lasts}",
        )

    return why


def _unknown(scene: Scene, found: Found, i: int, spot: str, go_if: tuple[GoIf, ...]) -> Words:
    if found.unlooked[i]:
        return Words(
            f"nobody looked for people where it comes down if it stops flying {spot}",
            "look there and add people to [survey] looked_for (or a `surveyed` area); go if "
            f"nobody may be within {say.metres(ROOM_M)} of it",
        )
    if found.blown[i] and not found.blind[i]:
        weather = scene.day.weather
        lacks = " and ".join(
            key
            for key, value in (("gust_m_s", weather.gust_m_s), ("wind_from", weather.wind_from_rad))
            if value is None
        )
        return Words(
            f"without {lacks} it is not known where it comes down: {say.speed(_gust_m_s(scene))} "
            f"could carry it onto somebody, or to where nobody looked, if it stops flying {spot}",
            f"give [weather] {lacks}; "
            + (go_if[0].text if go_if else f"go if nobody is then within {say.metres(ROOM_M)}"),
            go_if,
        )
    return Words(
        f"the ground it would fall on is not known, {spot}",
        f"give terrain that covers it; go if nobody is then within {say.metres(ROOM_M)} of it",
    )


def _energy(scene: Scene, drop: Drop) -> Remark:
    speed = float(np.nanmax(drop.speed_m_s, initial=0.0))
    return Remark(
        f"it hits the ground at up to {say.speed(speed)}, with "
        f"{0.5 * scene.aircraft.mass_kg * speed**2:.0f} J (for comparison: 14.9 J and 33.9 J are "
        "limits of two United States categories over people, 80 J one of EU class C1); the number "
        "alone decides nothing",
        source=ENERGY_SOURCE,
    )


def _assumptions(scene: Scene) -> tuple[str, ...]:
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


CHECK = Check(
    id="fall",
    family="harm",
    question="where does it come down if it stops flying, and who may be there?",
    unit="m",
    margins=margins,
    wind="own",
    rides="first",
    pointwise=False,
    group="people",
)
