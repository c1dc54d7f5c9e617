"""Whether aircraft and rider stay apart, also when the rider brakes hard."""

from __future__ import annotations

import numpy as np

from shotplan.kernels.motion.sensing import upright_gap_m
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.ride import RIDER_BRAKES_M_S2
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Told, Why
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

LEAST_M = 3.0
BRAKING_SOURCE = (
    f"braking at {RIDER_BRAKES_M_S2} m/s² (0.35 g on dry ground): common practice for a bicycle, "
    "FHWA-HRT-04-103"
)
UNKNOWN = no_ground(
    "the ground under the rider is not known at {spot}", f"{LEAST_M:.0f} m stay between them"
)


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Distance to an upright line of 2 m from the rider's ground point, less half the span."""
    half = scene.aircraft.half_span_m
    flown = upright_gap_m(scene.track.xyz_m, scene.track.ride.xyz_m) - half
    value = np.array(flown)
    if scene.braking_gap_m is not None:
        value[0] = np.minimum(value[0], scene.braking_gap_m - half)
    n = value.shape[1]

    return (
        Margin(
            margin=value - LEAST_M,
            value=value[0],
            limit=np.full(n, LEAST_M),
            thing=np.full(n, "rider", dtype=object),
            why=_said(scene, value[0], flown[0]),
            source=BRAKING_SOURCE,
            assumptions=(
                "3 m is the least ever kept to the rider; he is taken as a line 2 m tall",
            ),
        ),
    )


def _said(scene: Scene, gap_m: Array, flown_m: Array) -> Why:
    def reason(i: int, spot: str) -> str:
        braking = gap_m[i] < flown_m[i] - 0.005
        when = "if the rider brakes as hard as he can there" if braking else "as flown"
        return f"{say.metres(gap_m[i])} between aircraft and rider {when}, {spot}"

    return told(
        scene,
        reason,
        lambda i: (
            f"keep {say.rounded_up(LEAST_M - gap_m[i]):.1f} m more distance or height to the rider"
        ),
        unknown=UNKNOWN,
    )


CHECK = Check(
    id="rider-gap",
    family="harm",
    group="place",
    question="clear of the rider?",
    unit="m",
    shown=AGAINST,
    told=Told("it hits {thing}", strays="if you brake hard", name="the rider"),
    nature=Nature(hits="bodies", placed=True, by_style=True, searched="once"),
    margins=margins,
    wind="none",
)
