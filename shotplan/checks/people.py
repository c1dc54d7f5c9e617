"""How near it comes to people who are not part of the shoot, and to other people's things."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.solids import footprints
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.obstacles import REACH_M, Thing
from shotplan.model.rules import ObjectKind, PeopleRule
from shotplan.model.site import Kind, PeopleArea
from shotplan.model.verdict import Verdict
from shotplan.scene.holding import CALL_SOURCE, CALLS, STEP_M, Held, called, held, region
from shotplan.scene.margin import Check, Margin, Remark, Words
from shotplan.scene.scene import Scene

NO_RULE_SOURCE = "the rule pack has no distance; keep_clear_m, your own margin, is taken instead"
LOOKED_FOR: dict[ObjectKind, Kind] = {"building": "buildings", "pole": "wires", "wire": "wires"}
BLOCK = 500_000  # pairs of sample and point at a time
SAMPLES = 4000  # of the flight, to find which part of an area it comes too near to


class Near(NamedTuple):
    """How one area lies to the flight. `distance_m`, `limit_m (r,n)`: level distance to the point
    of it that binds, less the area's error and half the span (negative above it), and what is to
    be kept; NaN limit where the ground there is not known. `held`: how it is held (None: it is not
    said to be, or it does not come too near)."""

    area: PeopleArea
    distance_m: Array
    limit_m: Array
    held: Held | None

    @property
    def counts(self) -> bool:
        """Whether people may be there while it flies."""
        if self.area.state == "held":
            return self.held is not None and not self.held.holds
        return self.area.state == "may-pass"


def margins(scene: Scene) -> tuple[Margin, ...]:
    """People, and, where the pack asks for it, buildings, poles and wires."""
    people = _people(scene, [_near(scene, area) for area in scene.site.people])
    rule = scene.rules.people
    if rule is None or rule.objects_m is None:
        return (people,)
    return people, _objects(scene, rule, rule.objects_m)


def _least_m(scene: Scene) -> float:
    rule = scene.rules.people
    return scene.site.keep_clear_m if rule is None else rule.least_m


def _people(scene: Scene, near: list[Near]) -> Margin:
    shape = scene.track.known.shape
    rule = scene.rules.people
    strict = rule is not None and rule.passing == "no-go"
    counted = [k for k in near if k.counts]
    room = np.array([k.distance_m - k.limit_m for k in counted]).reshape(-1, *shape)
    doubt = np.isnan(room).any(axis=0)
    room = np.where(np.isnan(room), np.inf, room)
    margin = room.min(axis=0, initial=np.inf)
    looked = scene.looked_here(("people",))
    unknown = ~looked & (margin >= 0.0) if strict else ~looked
    unknown |= doubt & (margin >= 0.0)
    hard = np.where(unknown, np.nan, margin if strict else np.maximum(margin, 0.0))
    first = room[:, 0].argmin(axis=0) if counted else np.full(shape[1], -1)
    binding = [counted[w] if w >= 0 else None for w in first]
    value = np.array([k.distance_m[0, i] if k else np.nan for i, k in enumerate(binding)])
    limit = np.array([k.limit_m[0, i] if k else np.nan for i, k in enumerate(binding)])
    return Margin(
        margin=hard,
        soft=None if strict else margin,
        value=value,
        limit=limit,
        thing=np.array([k.area.id if k else "" for k in binding], dtype=object),
        why=_why(scene, near, binding, looked[0]),
        remarks=_remarks(scene, near),
        assumptions=_assumptions(near),
        source=str(rule.source) if rule else NO_RULE_SOURCE,
    )


def _near(scene: Scene, area: PeopleArea) -> Near:
    """One area against all rides; a held one is looked at from where its holder stands. Samples
    that keep more than enough of it are put infinitely far."""
    less = area.error_m + scene.aircraft.half_span_m
    asked = ~_far(scene, area, less)
    distance = np.full(asked.shape, np.inf)
    limit = np.full(asked.shape, _least_m(scene))
    here = scene.track.xyz_m
    after = np.concatenate([here[:, 1:], here[:, -1:]], axis=1)[asked]
    distance[asked], limit[asked] = _asked(scene, area, here[asked], after, less)
    if area.state != "held":
        return Near(area, distance, limit, None)
    danger = _danger(scene, area, ~(distance - limit > STEP_M), less)
    return Near(area, distance, limit, held(scene, area, danger) if len(danger) else None)


def _far(scene: Scene, area: PeopleArea, less_m: float) -> Bools:
    """Samples `(r,n)` that keep enough of an area whatever part of it binds, and more than its
    being held is looked at for. None where every margin is wanted."""
    track, there = scene.track, region(area)
    if np.isinf(scene.enough_m):
        return np.zeros(track.known.shape, dtype=bool)
    rule = scene.rules.people
    ground = np.array([np.inf])
    if rule is not None and rule.one_to_one:
        ground = scene.site.terrain.ground_m(footprints.spread(there, STEP_M))
    step = np.diff(track.xyz_m[..., :2], axis=1)
    less_m = less_m + STEP_M + scene.enough_m + float(np.sqrt((step**2).sum(axis=2).max()))
    lowest = float(np.fmin.reduce(ground))
    unknown = REACH_M if np.isnan(ground).any() else 0.0

    def spare(xyz_m: Array) -> Array:
        """A third of the room left: with height and distance it changes by twice the way at most,
        and a little is spared for points between those that were spread."""
        wanted = np.maximum(np.maximum(xyz_m[:, 2] - lowest, _least_m(scene)), unknown)
        return np.asarray(
            (footprints.reach(there, xyz_m[:, :2]).distance_m - wanted - less_m) / 3.0
        )

    return scene.least_here(spare, 0.0, sign_only=True) >= 0.0


def _asked(
    scene: Scene, area: PeopleArea, xyz_m: Array, after_m: Array, less_m: float
) -> tuple[Array, Array]:
    """Distance and limit `(k,)` at samples `xyz_m (k, 3)` after which come `after_m (k, 3)`."""
    found = footprints.reach(region(area), xyz_m[:, :2])
    distance = _on_the_way(region(area), xyz_m[:, :2], after_m[:, :2], found.distance_m) - less_m
    limit = np.full(len(distance), _least_m(scene))
    rule = scene.rules.people
    if rule is None or not rule.one_to_one:
        return distance, limit
    under = np.where((found.distance_m < 0.0)[:, None], xyz_m[:, :2], found.at_m)
    height = xyz_m[:, 2] - scene.site.terrain.ground_m(under)
    return _one_to_one(scene, area, xyz_m, distance, np.maximum(limit, height), less_m)


def _on_the_way(there: footprints.Region, xy_m: Array, after_m: Array, distance_m: Array) -> Array:
    """Distances `(k,)` with what lies between a sample and the next: a path has no width."""
    way = np.hypot(*(after_m - xy_m).T)
    near = (distance_m > 0.0) & (distance_m < way)
    result = distance_m.copy()
    result[near] = footprints.hulls_to_m(np.stack([xy_m[near], after_m[near]], axis=1), there)
    return result


def _one_to_one(
    scene: Scene, area: PeopleArea, flat: Array, distance: Array, limit: Array, less_m: float
) -> tuple[Array, Array]:
    """Distance and limit of the point of the area that binds: one farther off but lower may."""
    points = footprints.spread(region(area), STEP_M)
    ground = scene.site.terrain.ground_m(points)
    away_m, wanted_m = distance.copy(), limit.copy()
    for rows in np.array_split(np.arange(len(flat)), 1 + len(flat) * len(points) // BLOCK):
        way = flat[rows, None, :2] - points[None]
        away = np.hypot(way[..., 0], way[..., 1]) - less_m
        wanted = np.maximum(flat[rows, 2, None] - ground[None], _least_m(scene))
        room = away - wanted
        room = np.where(np.isnan(room) & (away > REACH_M), np.inf, room)
        doubt = np.isnan(room).any(axis=1)
        at = np.where(np.isnan(room), np.inf, room).argmin(axis=1)
        lower = room[np.arange(len(rows)), at] < away_m[rows] - wanted_m[rows]
        away_m[rows] = np.where(lower, away[np.arange(len(rows)), at], away_m[rows])
        wanted_m[rows] = np.where(lower, wanted[np.arange(len(rows)), at], wanted_m[rows])
        wanted_m[rows] = np.where(doubt & (away_m[rows] >= wanted_m[rows]), np.nan, wanted_m[rows])
    return away_m, wanted_m


def _danger(scene: Scene, area: PeopleArea, close: Bools, less_m: float) -> Array:
    """The points `(k, 2)` of an area that the flight comes too near to, where it is `close`."""
    points = footprints.spread(region(area), STEP_M)
    rule = scene.rules.people
    level = rule is None or not rule.one_to_one
    ground = None if level else scene.site.terrain.ground_m(points)
    hit = np.zeros(len(points), dtype=bool)
    flight = scene.track.xyz_m[close]
    for x, y, z in flight[:: 1 + len(flight) // SAMPLES]:
        away = np.hypot(points[:, 0] - x, points[:, 1] - y) - less_m - 0.5 * STEP_M
        wanted = _least_m(scene) if ground is None else np.maximum(z - ground, _least_m(scene))
        hit |= ~(away >= wanted)
    return points[hit]


def _why(
    scene: Scene, near: list[Near], binding: list[Near | None], looked: Bools
) -> Callable[[int, Verdict], Words]:
    along, t = scene.track.ride.along_m[0], scene.track.ride.t_s
    least = say.metres(_least_m(scene))

    def why(i: int, verdict: Verdict) -> Words:
        it = binding[max(i, 0)]
        spot = say.place(float(along[max(i, 0)]), float(t[max(i, 0)]))
        if verdict == Verdict.UNKNOWN and not looked[i]:
            return Words(
                f"nobody looked for people at {spot}: an empty map is not an empty path",
                "look who comes by, draw paths and places with role `people` and add people to "
                f"[survey] looked_for; go if they then stay {least} away",
            )
        if verdict == Verdict.UNKNOWN:
            return Words(
                f"ground is not known at {spot}, so how it flies past people there is not either",
                f"give terrain that covers it; go if people then stay {least} away, and as far as "
                "it is above them where the pack asks for that",
            )
        if i < 0 or it is None:
            drawn = "everywhere they may be is held or closed" if near else "no place is drawn"
            return Words(f"people were looked for, and {drawn}", "nothing to change")
        away, limit = float(it.distance_m[0, i]), float(it.limit_m[0, i])
        name, high = called(it.area), limit > _least_m(scene)
        where = f"{say.metres(away)} from {name}"
        if away < 0.0:
            where = f"above {name}, {say.metres(-away)} inside its edge as grown by its error"
        kept = f"{say.metres(limit)} is kept" if limit > 0.0 else "it must not be above them"
        kept += ", as far as it is above the ground there" if high else ""
        reason = f"it flies {where}, measured level, {spot}; {kept}"
        if away >= limit:
            return Words(reason, "nothing to change")
        return Words(reason, _advice(it, limit - away))

    return why


def _advice(it: Near, short_m: float) -> str:
    away = f"fly {say.rounded_up(short_m):.1f} m farther from {called(it.area)} there"
    if it.held is not None:
        return f"{away}; it is said to be held, but {it.held.why}: {CALLS} must be seen"
    return f"{away}, or have somebody hold it who sees {CALLS}"


def _remarks(scene: Scene, near: list[Near]) -> tuple[Remark, ...]:
    found = []
    if scene.rules.people is None:
        found.append(
            Remark(
                f"{scene.rules.id} has no distance to people that is computed here; nearer than "
                f"your own {say.metres(_least_m(scene))} is a caution"
            )
        )
    for k in near:
        least = float(k.distance_m[0].min())
        name, how = called(k.area), f"it comes to {say.metres(max(least, 0.0))} of it"
        if k.area.state == "closed":
            found.append(Remark(f"{name} is said to be closed; {how}: keep it closed all the time"))
        if k.area.state == "held":
            found.append(_held(name, how, k.area.held_by, k.held))
    return tuple(found)


def _held(name: str, how: str, holder: str, it: Held | None) -> Remark:
    if it is None:
        return Remark(f"{name} is held; {how}, which would do without")
    if it.holds_all:
        return Remark(f"{name} is held, {how}: {holder} calls {CALLS}", source=CALL_SOURCE)
    if it.holds:
        return Remark(
            f"{name} is held, but {it.why}: enough for {' and '.join(it.against)} only",
            caution=True,
            source=CALL_SOURCE,
            advice=f"have {holder} stand where they see {CALLS}",
        )
    return Remark(f"{name} counts as if anybody may pass: {it.why}", source=CALL_SOURCE)


def _assumptions(near: list[Near]) -> tuple[str, ...]:
    lines = [
        "people are taken to be anywhere in a `people` area, which is grown by its error; the "
        "distance is level, from the aircraft's edge"
    ]
    if any(k.held is not None for k in near):
        lines.append(
            f"a path is held by somebody who sees {CALLS}: {CALL_SOURCE}; distances straight"
        )
    return tuple(lines)


def _objects(scene: Scene, rule: PeopleRule, limit_m: float) -> Margin:
    """Level distance to the kinds of things the pack names, whose owner nobody knows."""
    half = scene.aircraft.half_span_m
    things = [t for t in scene.site.obstacles.things if t.role in rule.objects]
    margin = (
        scene.least_here(lambda p: _nearest(things, p[:, :2], half)[0], limit_m + scene.enough_m)
        - limit_m
    )
    least, which = _nearest(things, scene.track.xyz_m[0, :, :2], half)
    kinds = tuple(dict.fromkeys(LOOKED_FOR[o] for o in rule.objects))
    looked = scene.looked_here(kinds)
    what = " or ".join(kinds)
    n = margin.shape[1]

    def why(i: int, verdict: Verdict) -> Words:
        if i < 0:
            return Words(f"no {what} within {REACH_M:.0f} m", "nothing to change")
        spot = say.place(float(scene.track.ride.along_m[0, i]), float(scene.track.ride.t_s[i]))
        if verdict == Verdict.UNKNOWN:
            return Words(
                f"nobody looked for {what} at {spot}",
                f"look for them; go if they stay {say.metres(limit_m)} away, measured level",
            )
        it = things[which[i]]
        reason = (
            f"{it.role} {it.label} is {say.metres(max(float(least[i]), 0.0))} away, measured "
            f"level, {spot}; {say.metres(limit_m)} is kept from what belongs to others"
        )
        if least[i] >= limit_m:
            return Words(reason, "nothing to change")
        short = say.rounded_up(limit_m - float(least[i]))
        return Words(reason, f"fly {short:.1f} m farther from {it.label} there")

    return Margin(
        margin=np.where((margin >= 0.0) & ~looked, np.nan, margin),
        value=np.where(np.isinf(least), np.nan, least),
        limit=np.full(n, limit_m),
        thing=np.array([things[w].id if w >= 0 else "" for w in which], dtype=object),
        why=why,
        family="rule",
        assumptions=(f"every {', '.join(rule.objects)} is taken to be somebody else's",),
        source=str(rule.objects_source or rule.source),
    )


def _nearest(things: list[Thing], xy: Array, half_span_m: float) -> tuple[Array, NDArray[np.intp]]:
    """Distance `(k,)` to the nearest of some things (+inf none within reach), which (-1 none)."""
    least, which = np.full(len(xy), np.inf), np.full(len(xy), -1)
    for index, thing in enumerate(things):
        _take_nearer(least, which, xy, index, thing, half_span_m)
    return least, which


def _take_nearer(
    least: Array, which: NDArray[np.intp], xy: Array, index: int, thing: Thing, half_span_m: float
) -> None:
    """Where a thing is nearer than the least so far (and within reach), put it there instead."""
    less = thing.error_m + half_span_m + (thing.radius_m if thing.role == "pole" else 0.0)
    middle = thing.where_m.mean(axis=0)
    wide = float(np.hypot(*(thing.where_m - middle).T).max())
    bound = np.hypot(*(xy - middle).T) - wide - less
    asked = np.flatnonzero(bound < np.minimum(least, REACH_M))
    if not len(asked):
        return
    solid = footprints.Region((thing.where_m,), thing.role == "building")
    distance = footprints.reach(solid, xy[asked]).distance_m - less
    nearer = distance < least[asked]
    least[asked[nearer]], which[asked[nearer]] = distance[nearer], index


CHECK = Check(
    id="people",
    family="harm",
    question="how near does it come to people who are not part of the shoot?",
    unit="m",
    margins=margins,
    wind="none",
    pointwise=False,
    group="people",
)
