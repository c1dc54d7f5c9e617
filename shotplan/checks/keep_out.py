"""Whether it stays out of what is closed to it."""

from __future__ import annotations

import numpy as np

from shotplan.kernels import prisms
from shotplan.model import say
from shotplan.model.judged import Check, Margin, Words
from shotplan.model.scene import Scene
from shotplan.model.verdict import Verdict

REACH_M = 200.0


def margins(scene: Scene) -> tuple[Margin, ...]:
    """3-D distance to the nearest keep-out between its floor and ceiling, less half the span."""
    shape = scene.blind.shape
    here = np.array(scene.track.xyz_m.reshape(-1, 3))
    least = np.full(len(here), np.inf)
    which = np.full(len(here), -1)
    for index, zone in enumerate(scene.site.zones):
        distance = prisms.nearest(prisms.index(zone.prisms), here, REACH_M).distance_m
        which = np.where(distance < least, index, which)
        least = np.minimum(least, distance)
    value = (least - scene.aircraft.half_span_m).reshape(shape)
    n = shape[1]
    zones = scene.site.zones
    thing = np.array([zones[w].id if w >= 0 else "" for w in which[:n]], dtype=object)

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


CHECK = Check(
    id="keep-out",
    family="rule",
    question="does it stay out of what is closed to it?",
    unit="m",
    margins=margins,
)
