"""How near it comes to things that belong to others, where the pack names them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.solids import footprints
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.obstacles import REACH_M, Thing
from shotplan.model.rules import ObjectKind, PeopleRule
from shotplan.model.site import Kind
from shotplan.scene.margin import Margin, Why, Words
from shotplan.scene.scene import Scene
from shotplan.scene.telling import told

LOOKED_FOR: dict[ObjectKind, Kind] = {"building": "buildings", "pole": "wires", "wire": "wires"}


def margin(scene: Scene, rule: PeopleRule, limit_m: float) -> Margin:
    """Level distance to the kinds of things the pack names, whose owner nobody knows."""
    half = scene.aircraft.half_span_m
    things = [t for t in scene.site.obstacles.things if t.role in rule.objects]
    enough = limit_m + scene.enough_m
    room = scene.least_here(lambda p: _nearest(things, p[:, :2], half)[0], enough) - limit_m
    least, which = _nearest(things, scene.track.xyz_m[0, :, :2], half)
    binding = [things[w] if w >= 0 else None for w in which]
    kinds = tuple(dict.fromkeys(LOOKED_FOR[o] for o in rule.objects))
    return Margin(
        margin=np.where((room >= 0.0) & ~scene.looked_here(kinds), np.nan, room),
        value=np.where(np.isinf(least), np.nan, least),
        limit=np.full(len(which), limit_m),
        thing=np.array([it.id if it else "" for it in binding], dtype=object),
        why=_said(scene, binding, least, limit_m, " or ".join(kinds)),
        family="rule",
        assumptions=(f"every {', '.join(rule.objects)} is taken to be somebody else's",),
        source=str(rule.objects_source or rule.source),
    )


def _said(
    scene: Scene, binding: list[Thing | None], away_m: Array, limit_m: float, what: str
) -> Why:
    kept = say.metres(limit_m)

    def reason(i: int, spot: str) -> str:
        it = binding[i]
        assert it is not None
        return (
            f"{it.role} {it.label} is {say.metres(max(float(away_m[i]), 0.0))} away, measured "
            f"level, {spot}; {kept} is kept from what belongs to others"
        )

    def advice(i: int) -> str:
        it = binding[i]
        assert it is not None
        short = say.rounded_up(limit_m - float(away_m[i]))
        return f"fly {short:.1f} m farther from {it.label} there"

    return told(
        scene,
        reason,
        advice,
        nothing=f"no {what} within {REACH_M:.0f} m",
        unknown=Words(
            f"nobody looked for {what} at {{spot}}",
            f"look for them; go if they stay {kept} away, measured level",
        ),
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
