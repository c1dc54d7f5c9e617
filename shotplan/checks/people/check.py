"""How near it comes to people who are not part of the shoot, and to other people's things."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shotplan.checks.people import things
from shotplan.kernels.solids import footprints
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.obstacles import REACH_M
from shotplan.model.site import PeopleArea
from shotplan.scene import needs
from shotplan.scene.holding import CALL_SOURCE, CALLS, STEP_M, Held, called, held, region
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Remark, Told, Why, Words
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

NO_RULE_SOURCE = "the rule pack has no distance; keep_clear_m, your own margin, is taken instead"
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
    return people, things.margin(scene, rule, rule.objects_m)


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
        why=_said(scene, near, binding, looked[0]),
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


def _said(scene: Scene, near: list[Near], binding: list[Near | None], looked: Bools) -> Why:
    drawn = "everywhere they may be is held or closed" if near else "no place is drawn"
    nothing = f"people were looked for, and {drawn}"

    def reason(i: int, spot: str) -> str:
        it = binding[i]
        if it is None:
            return nothing
        away, limit, name = float(it.distance_m[0, i]), float(it.limit_m[0, i]), called(it.area)
        where = f"{say.metres(away)} from {name}"
        if away < 0.0:
            where = f"above {name}, {say.metres(-away)} inside its edge as grown by its error"
        kept = f"{say.metres(limit)} is kept" if limit > 0.0 else "it must not be above them"
        kept += ", as far as it is above the ground there" if limit > _least_m(scene) else ""
        return f"it flies {where}, measured level, {spot}; {kept}"

    def unknown(i: int, spot: str) -> Words:
        stay = f"stay {say.metres(_least_m(scene))} away"
        if looked[i]:
            return no_ground(
                f"ground is not known at {spot}, so how it flies past people there is not either",
                f"people then {stay}, and as far as it is above them where the pack asks for that",
            )
        return Words(
            f"nobody looked for people at {spot}: an empty map is not an empty path",
            "look who comes by, draw paths and places with role `people` and add people to "
            f"[survey] looked_for; go if they then {stay}",
        )

    return told(scene, reason, lambda i: _advice(binding[i], i), unknown=unknown, nothing=nothing)


def _advice(it: Near | None, i: int) -> str:
    assert it is not None
    short_m = float(it.limit_m[0, i] - it.distance_m[0, i])
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


CHECK = Check(
    id="people",
    family="harm",
    group="people",
    question="clear of other people?",
    unit="m",
    shown=AGAINST,
    told=Told("it comes too near to people, {thing}", strays="if somebody comes"),
    nature=Nature(hits="people", placed=True, by_style=True, searched="once"),
    margins=margins,
    wind="none",
    pointwise=False,
    lifts="an hour when nobody is there, or somebody who holds them back (`held_by`)",
    needs=needs.looked_for("people"),
)
