"""Where it comes down if it stops flying, and who may be there."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from shotplan.checks.fall import said
from shotplan.checks.fall.said import (
    HEAD_J,
    LOOKED_FOR,
    ROOM_M,
    Found,
    Target,
    energy_j,
    gust_m_s,
)
from shotplan.kernels.solids import footprints
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.ride import STEP_S
from shotplan.scene import falls, needs
from shotplan.scene.falls import Drop
from shotplan.scene.holding import STEP_M, called, held, in_season, local_date, region
from shotplan.scene.margin import AGAINST, Check, Drawing, GoIf, Margin, Nature, Told
from shotplan.scene.scene import Scene

LONG_S = 5.0
SIDES = 8  # from which an unknown wind is tried
GUST_STEP_M_S = 0.02
FEW = 40
HAIR_M = 1e-6  # more than any rounding
SOURCE = (
    "point mass with quadratic drag, integrated; tumbling C_d 0.7 to 1.0 (at second hand); 80 J: "
    "Delegated Regulation (EU) 2019/945, class C1, the limit for a head; air: ICAO standard "
    "atmosphere; the 30° to either side, the 2 m and the 5 s are own settings"
)
HIM = footprints.Region((np.zeros((1, 2)),), False)  # the rider, from whom landings are measured


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Level distance from where it would come down to who may be there (undisturbed ride)."""
    found = _found(scene)
    n = len(found.blind)
    nearest = _deciding(scene, found)
    room = found.rooms_m[nearest, np.arange(n)]
    reached = np.isfinite(room)
    return (
        Margin(
            margin=hard_m(scene, found)[None],
            soft=found.room_m[None],
            value=np.where(reached, room + ROOM_M, np.nan),
            limit=np.full(n, ROOM_M),
            thing=np.array(
                [found.targets[t].id if r else "" for t, r in zip(nearest, reached, strict=True)],
                dtype=object,
            ),
            why=said.why(scene, found, nearest, _go_if(scene, found)),
            remarks=(said.energy(scene, found.drop),),
            assumptions=said.assumptions(scene),
            drawings=tuple(
                Drawing("where it comes down if it stops", ring)
                for ring in footprints.swept(found.drop.xyz_m[..., :2], scene.aircraft.half_span_m)
            ),
            source=SOURCE,
        ),
    )


def hard_m(scene: Scene, found: Found) -> Array:
    """`(n,)` what refuses a shot: landings on a person that are too hard, or go on for too long;
    NaN unknown."""
    grave = np.where(_grave(scene, found), found.rooms_m, np.inf)
    worst = grave.min(axis=0)
    hard = np.where(worst < 0.0, worst, np.maximum(found.room_m, 0.0))
    return np.where(found.unknown, np.nan, hard)


def _deciding(scene: Scene, found: Found) -> NDArray[np.intp]:
    """`(n,)` the target that is told of: the nearest of those whose landing refuses the shot, else
    the nearest of all."""
    grave = np.where(_grave(scene, found), found.rooms_m, np.inf)
    refused = grave.min(axis=0) < 0.0
    return np.asarray(np.where(refused, grave.argmin(axis=0), found.rooms_m.argmin(axis=0)))


def _found(scene: Scene) -> Found:
    n = scene.blind.shape[1]
    wind = falls.gust_toward_m_s(scene)
    drop = falls.drop(scene, np.arange(n), [np.zeros(3), *([wind] if wind is not None else [])])
    found = _landed(scene, drop)
    return found if wind is not None else found._replace(blown=_blown(scene, drop, found.targets))


def _landed(scene: Scene, drop: Drop) -> Found:
    """What falls of every sample come to, if the wind is known."""
    targets = _targets(scene, drop)
    rooms = _rooms(scene, drop, targets)
    hit_s = [float((room < 0.0).sum() * STEP_S) for room in rooms]
    blind = np.asarray(np.isnan(drop.time_s).any(axis=1))
    blown = np.zeros(len(blind), dtype=bool)
    return Found(drop, targets, rooms, hit_s, blind, ~blind & ~_looked(scene, drop), blown)


def between(scene: Scene, drop: Drop, every_s: float) -> Found:
    """The same, nowhere farther off, of falls so many seconds of flight apart, for all that lies
    between them; rooms are exact where they are broken."""
    moving, targets = scene.track.velocity_m_s[0, :, :2], _targets(scene, drop)
    ridden = np.gradient(scene.track.ride.xyz_m[0, :, :2], STEP_S, axis=0)
    way, apart = (0.5 * every_s * float(np.hypot(*v.T).max()) for v in (moving, moving - ridden))
    less = np.array([[apart if t.kind == "rider" else way] for t in targets])
    rooms = _rooms(scene, drop, targets, less) - less
    hit_s = [float(((room < 0.0).sum() + 1) * every_s) for room in rooms]
    blind = np.asarray(np.isnan(drop.time_s).any(axis=1))
    blown = np.zeros(len(blind), dtype=bool)
    return Found(drop, targets, rooms, hit_s, blind, ~_looked(scene, drop, way), blown)


def _targets(scene: Scene, drop: Drop) -> list[Target]:
    """Who may be hit. What is closed, held so that nobody is there, or out of season is left
    out."""
    found = [Target("rider", "the rider", "the rider", HIM, 0.0, "rider")]
    for area in scene.site.people:
        target = Target(area.id, called(area), called(area), region(area), area.error_m, "people")
        if area.state == "closed" or (area.state == "held" and _kept_empty(scene, drop, target)):
            continue
        found.append(target)
    for person in scene.day.crew:
        place = scene.stand_of(person)
        if place is None or "rider" in person.roles:
            continue
        spot, label = footprints.Region((place.xyz_m[None, :2],), False), place.label
        who = f"{person.name} at {label}"
        found.append(Target(place.id, person.name, who, spot, place.error_m, "crew"))
    on = local_date(scene)
    for animals in scene.site.wildlife:
        if in_season(animals, on):
            name, off = called(animals), animals.error_m
            found.append(Target(animals.id, name, name, region(animals), off, "wildlife"))
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


def _rooms(
    scene: Scene, drop: Drop, targets: Sequence[Target], enough_m: Array | float = np.inf
) -> Array:
    """`(t,n)` level distance from the landings to each target, less what is kept (+inf: no
    landing is known); exact below `enough_m` (of all or each), at least that elsewhere."""
    enough = np.broadcast_to(enough_m, (len(targets), 1))[:, 0] + HAIR_M
    rooms = np.full((len(targets), len(drop.xyz_m)), np.inf)
    for index, target in enumerate(targets):
        less = target.grown_m + scene.aircraft.half_span_m + ROOM_M
        landings = drop.xyz_m[..., :2]
        if target.kind == "rider":
            landings = drop.from_rider_m
        away = footprints.hulls_to_m(landings, target.region, less + float(enough[index])) - less
        rooms[index] = np.where(np.isnan(away), np.inf, away)
    return rooms


def _looked(scene: Scene, drop: Drop, deep_m: float = 0.0) -> Bools:
    """`(n,)` whether somebody looked wherever it may come down (as far as known), and so far
    around."""
    known = np.isfinite(drop.time_s)
    xy = np.where(known[..., None], drop.xyz_m, 0.0)[..., :2]
    looked = scene.site.looked_m(xy, LOOKED_FOR) >= deep_m
    return np.asarray((looked | ~known).all(axis=1))


def _sides(scene: Scene) -> list[float]:
    """Where the wind may come from, radians."""
    known = scene.day.weather.wind_from_rad
    return [known] if known is not None else list(np.arange(SIDES) * 2.0 * np.pi / SIDES)


def _blown(scene: Scene, still: Drop, targets: Sequence[Target]) -> Bools:
    """`(n,)` where a wind that is not known, tried from all sides, could carry it onto somebody
    or to where nobody looked."""
    winds = [gust_m_s(scene) * falls.toward(side) for side in _sides(scene)]
    blown = falls.drop(scene, np.arange(scene.blind.shape[1]), winds)
    return np.asarray(~_spared(scene, still.beside(blown), targets))


def _spared(scene: Scene, drop: Drop, targets: Sequence[Target]) -> Bools:
    """`(n,)` where it is known that nobody is hit."""
    clear = (_rooms(scene, drop, targets, 0.0) >= 0.0).all(axis=0)
    return np.asarray(clear & np.isfinite(drop.time_s).all(axis=1) & _looked(scene, drop))


def _go_if(scene: Scene, found: Found) -> tuple[GoIf, ...]:
    """The greatest gust with which nobody is hit, if only the wind is in doubt: from the side it
    is worst from."""
    samples = np.flatnonzero(found.blown)
    if not len(samples) or (found.blind | found.unlooked | (found.room_m < 0.0)).any():
        return ()
    worst, least = 0.0, math.inf
    for side in _sides(scene):
        gust = _greatest_gust_m_s(scene, found, samples, side, min(gust_m_s(scene), least))
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
    """`(t,n)` whom it would hurt too much to be a caution: any person it would land on with as
    much as no head may take, and other people it could land on for more than 5 s where the pack
    does not let it pass over them."""
    rule = scene.rules.people
    strict = rule is not None and rule.passing == "no-go"
    hard = energy_j(scene, found.drop) >= HEAD_J
    grave = np.zeros(found.rooms_m.shape, dtype=bool)
    for row, target, lasts_s in zip(grave, found.targets, found.hit_s, strict=True):
        long = strict and target.kind == "people" and lasts_s > LONG_S
        row[:] = long | (hard & (target.kind != "wildlife"))
    return grave


CHECK = Check(
    id="fall",
    family="harm",
    group="people",
    question="what if it stops flying?",
    unit="m",
    shown=AGAINST,
    told=Told("without power it comes down on {thing}", strays="if a motor stops"),
    nature=Nature(hits="nothing", placed=False, by_style=True, searched="never"),
    margins=margins,
    wind="own",
    rides="first",
    pointwise=False,
    sheet="falls",
    needs=needs.looked_for("people", "wildlife"),
)
