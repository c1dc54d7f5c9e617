"""Whether aircraft and rider stay apart, also when the rider brakes hard."""

from __future__ import annotations

import numpy as np

from shotplan.kernels.motion.sensing import upright_gap_m
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Check, Margin, Words
from shotplan.scene.scene import Scene

LEAST_M = 3.0
BRAKING_SOURCE = (
    "braking at 3.4 m/s² (0.35 g on dry ground): common practice for a bicycle, FHWA-HRT-04-103"
)


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Distance to an upright line of 2 m from the rider's ground point, less half the span."""
    half = scene.aircraft.half_span_m
    flown = upright_gap_m(scene.track.xyz_m, scene.track.ride.xyz_m) - half
    value = np.array(flown)
    if scene.braking_gap_m is not None:
        value[0] = np.minimum(value[0], scene.braking_gap_m - half)
    n = value.shape[1]

    def why(i: int, verdict: Verdict) -> Words:
        spot = say.place(float(scene.track.ride.along_m[0, i]), float(scene.track.ride.t_s[i]))
        if verdict == Verdict.UNKNOWN:
            return Words(
                f"the ground under the rider is not known at {spot}",
                f"give terrain that covers it; go if {LEAST_M:.0f} m stay between them",
            )
        braking = value[0, i] < flown[0, i] - 0.005
        when = "if the rider brakes as hard as he can there" if braking else "as flown"
        reason = f"{say.metres(float(value[0, i]))} between aircraft and rider {when}, {spot}"
        if verdict == Verdict.GO:
            return Words(reason, "nothing to change")
        more = say.rounded_up(LEAST_M - float(value[0, i]))
        return Words(reason, f"keep {more:.1f} m more distance or height to the rider")

    return (
        Margin(
            margin=value - LEAST_M,
            value=value[0],
            limit=np.full(n, LEAST_M),
            thing=np.full(n, "rider", dtype=object),
            why=why,
            source=BRAKING_SOURCE,
            assumptions=(
                "3 m is the least ever kept to the rider; he is taken as a line 2 m tall",
            ),
        ),
    )


CHECK = Check(
    id="rider-gap",
    family="harm",
    question="do aircraft and rider stay apart, also when he brakes hard?",
    unit="m",
    margins=margins,
    wind="none",
)
