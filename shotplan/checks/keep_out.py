"""Whether it stays out of what is closed to it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.solids import prisms
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Check, Margin, Words
from shotplan.scene.scene import Scene

REACH_M = 200.0


def margins(scene: Scene) -> tuple[Margin, ...]:
    """3-D distance to the nearest keep-out between its floor and ceiling, less half the span."""
    half, zones = scene.aircraft.half_span_m, scene.site.zones
    solids = [prisms.index(zone.prisms) for zone in zones]
    value: Array = np.full(scene.track.known.shape, np.inf)
    if zones:
        value = scene.least_here(lambda p: _nearest(solids, p)[0], half + scene.enough_m) - half
    n = value.shape[1]
    _, which = _nearest(solids, np.array(scene.track.xyz_m[0]))
    thing = np.array([zones[w].id if w >= 0 else "" for w in which], dtype=object)

    def why(i: int, verdict: Verdict) -> Words:
        if i < 0:
            none = "no keep-out is drawn" if not zones else f"no keep-out within {REACH_M:.0f} m"
            return Words(none, "nothing to change")
        spot = say.place(float(scene.track.ride.along_m[0, i]), float(scene.track.ride.t_s[i]))
        if verdict == Verdict.UNKNOWN:
            return Words(
                f"the ground is not known at {spot}",
                "give terrain that covers it; go if it stays outside",
            )
        zone = zones[which[i]]
        called = f"{zone.name or zone.id}{f' ({zone.reason})' if zone.reason else ''}"
        reason = f"{say.metres(float(value[0, i]))} from the keep-out {called}, {spot}"
        if verdict == Verdict.GO:
            return Words(reason, "nothing to change")
        return Words(
            f"{reason}: it is entered",
            f"keep {say.metres(-float(value[0, i]))} farther away there, or end the shot before it",
        )

    return (
        Margin(
            margin=value,
            value=np.where(np.isinf(value[0]), np.nan, value[0]),
            limit=np.zeros(n),
            thing=thing,
            why=why,
            source="the keep-outs as drawn",
        ),
    )


def _nearest(solids: list[prisms.PrismIndex], xyz_m: Array) -> tuple[Array, NDArray[np.intp]]:
    """Distance `(k,)` to the nearest zone (+inf none within reach) and which it is (-1 none)."""
    least, which = np.full(len(xyz_m), np.inf), np.full(len(xyz_m), -1)
    for index, solid in enumerate(solids):
        distance = prisms.nearest(solid, xyz_m, REACH_M).distance_m
        which = np.where(distance < least, index, which)
        least = np.minimum(least, distance)
    return least, which


CHECK = Check(
    id="keep-out",
    family="rule",
    question="does it stay out of what is closed to it?",
    unit="m",
    margins=margins,
    wind="none",
)
