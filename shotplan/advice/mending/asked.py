"""What a check says of flights, metre by metre, and over all rides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np

from shotplan.judging.ask import Asked, ask, parts
from shotplan.judging.verdicts import Codes, Part
from shotplan.kernels.rides import by_place
from shotplan.model.flight import Track
from shotplan.model.ride import Ride
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Check
from shotplan.scene.scene import Scene

EVERY = 6  # samples between those asked: 0.6 s, less than the 5 m that a metre looks each way
ENOUGH_M = 4.0  # a margin of an undisturbed ride beyond this is not told more exactly


def stacked(scenes: Sequence[Scene], enough_m: float) -> Scene:
    """Undisturbed flights over the same part of the ride as the rows of one scene, for checks of
    which every ride is asked."""
    first, tracks = scenes[0], [scene.track for scene in scenes]
    ride = first.track.ride
    rows = {
        one.name: np.repeat(getattr(ride, one.name), len(scenes), axis=0)
        for one in fields(Ride)
        if getattr(ride, one.name).shape[:1] == (1,) and getattr(ride, one.name).ndim > 1
    }
    flown = {
        one.name: np.concatenate([getattr(track, one.name) for track in tracks])
        for one in fields(Track)
        if one.name != "ride"
    }
    track = Track(ride=replace(ride, **rows), **flown)
    return replace(first, track=track, wish=None, free=None, enough_m=enough_m)


def thinned(scene: Scene, every: int) -> Scene:
    """The flights at some of their samples, for checks of which each is asked by itself."""
    some = slice(None, None, every)
    return replace(
        scene,
        track=scene.track.part(slice(None), some),
        wish=None if scene.wish is None else scene.wish.samples(some),
        free=None if scene.free is None else scene.free.part(slice(None), some),
        braking_gap_m=None,
    )


def codes(check: Check, scene: Scene, room_m: float = 0.0) -> Codes:
    """`(r, k)` verdict codes of a scene's flights by metre, each by itself; what is measured in
    metres needs `room_m` more than the limit."""
    metres = by_place.Metres(by_place.metres(scene.track.ride.along_m[0]))
    if check.pointwise:
        scene = thinned(scene, EVERY)
    found = np.zeros((scene.track.ride.rides, len(metres)), dtype=np.int8)
    for margin in check.margins(scene):
        placed = parts(check, margin, scene, metres)[1]
        less = room_m if (margin.unit or check.unit) == "m" else 0.0
        for row in range(len(found)):
            own = _less(placed.at(slice(row, row + 1)), less, slice(None))
            found[row] = np.maximum(found[row], own.codes())
    return found


def over_rides(check: Check, scene: Scene, spare_m: float) -> tuple[Verdict, Codes]:
    """The word `find` would have, also if every disturbed ride came nearer by `spare_m`; and the
    codes `(k,)` of each metre."""
    asked = [_nearer(one, spare_m) for one in ask(check, scene)]
    verdict = max(one.verdict for one in asked)
    wary = any(one.warns for one in asked) or any(
        remark.caution for one in asked for remark in one.margin.remarks
    )
    if any(one.whole.family == "rule" for one in asked):  # of elsewhere: at best a caution
        wary = wary or bool(scene.rules.elsewhere(scene.site.country))
    verdict = max(verdict, Verdict.CAUTION) if wary else verdict
    return verdict, np.max([one.placed.codes() for one in asked], axis=0)


def _nearer(one: Asked, spare_m: float) -> Asked:
    if (one.margin.unit or one.check.unit) != "m":
        return one
    others = slice(1, None)
    placed, whole = (_less(p, spare_m, others) for p in (one.placed, one.whole))
    return replace(one, placed=placed, whole=whole)


def _less(part: Part, less_m: float, rows: slice) -> Part:
    if not less_m:
        return part
    hard, soft = part.least.copy(), part.least_soft.copy()
    hard[rows] -= less_m
    soft[rows] -= less_m
    return part._replace(least=hard, least_soft=soft)
