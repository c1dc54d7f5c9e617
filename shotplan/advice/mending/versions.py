"""A version of a shot while it is looked at: on which metres it is good, what part that leaves."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np

from shotplan.kernels.rides import by_place
from shotplan.kernels.rides.runs import stretches
from shotplan.model.arrays import Bools
from shotplan.model.nearby import Near, Reach
from shotplan.model.ride import Ride
from shotplan.model.shot import LinkLost, Shot
from shotplan.scene.scene import Scene

BESIDE_M = 3
IN_M = 2.0  # a part begins and ends this far inside what was good: it begins anew there


class Part(NamedTuple):
    """Some of the shot's ride; `lost` the share that is not filmed."""

    from_m: float
    to_m: float
    lost: float


@dataclass(kw_only=True)
class Version:
    """`near` flown over the whole shot (`scene`, undisturbed); `good (k,)` the metres of it on
    which nothing refused so far, `asked` by which checks; `failed` how often its part was refused
    when it was flown by itself."""

    near: Near
    scene: Scene
    good: Bools
    link: LinkLost
    asked: set[str] = field(default_factory=set)
    failed: int = 0

    def part(self, shot: Shot, ride: Ride, reach: Reach) -> Part | None:
        """The longest run of good metres, rounded inward; None where none is long enough for a
        shot."""
        if self.good.all():
            return Part(shot.from_m, shot.to_m, 0.0)
        first, count = math.floor(shot.from_m), len(self.good)
        runs = stretches(self.good)
        if not runs:
            return None
        low, high = max(runs, key=lambda run: run[1] - run[0])
        start = shot.from_m if low == 0 else first + low + IN_M
        end = shot.to_m if high == count else first + high - IN_M
        if end <= start or _lasts_s(ride, start, end) < reach.least_s:
            return None
        return Part(start, end, 1.0 - (end - start) / (shot.to_m - shot.from_m))

    def cost(self, part: Part, shot: Shot, reach: Reach) -> float:
        """How much it changes what was asked for."""
        other = self.link != shot.link_lost
        return self.near.cost + reach.cut_cost * part.lost + reach.link_cost * other

    def made(self, part: Part, shot: Shot, ride: Ride) -> Shot:
        """As a shot of its own: what has a phase goes on as it would be there."""
        later = _lasts_s(ride, shot.from_m, part.from_m)
        style = self.near.style.later(later) if later else self.near.style
        return replace(shot, style=style, from_m=part.from_m, to_m=part.to_m, link_lost=self.link)

    def without(self, bad: Bools, from_m: float) -> None:
        """Takes away metres `bad (j,)` of a flight that begins at `from_m`, and those beside."""
        shift = math.floor(from_m) - math.floor(self.scene.shot.from_m)
        good = self.good.copy()
        for at in shift + np.flatnonzero(bad):
            good[max(at - BESIDE_M, 0) : at + BESIDE_M + 1] = False
        self.good = good


def keys(old: Shot, new: Shot) -> dict[str, Any]:
    """What `[[shot]]` says otherwise."""
    before, after = (
        {**vars(s.style), "from_m": s.from_m, "to_m": s.to_m, "link_lost": s.link_lost}
        for s in (old, new)
    )
    return {key: value for key, value in after.items() if value != before[key]}


def whole(scene: Scene) -> Bools:
    """Every metre of a flight, good."""
    return np.ones(len(by_place.metres(scene.track.ride.along_m[0])), dtype=bool)


def _lasts_s(ride: Ride, from_m: float, to_m: float) -> float:
    """How long the undisturbed ride takes from one place to another."""
    return float(np.diff(ride.when_s(np.array([from_m, to_m])))[0])
