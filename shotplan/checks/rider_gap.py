"""Whether aircraft and rider stay apart, also when the rider brakes hard."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.motion.sensing import upright_gap_m
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.ride import BRAKES_SOURCE, HARDEST_BRAKES_M_S2, RIDER_BRAKES_M_S2
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Told, Why
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

LEAST_M = 3.0
FIRM = f"if the rider makes a firm stop ({RIDER_BRAKES_M_S2} m/s²) there"
HARDEST = f"if the rider brakes as hard as both brakes can ({HARDEST_BRAKES_M_S2:.1f} m/s²) there"
UNKNOWN = no_ground(
    "the ground under the rider is not known at {spot}", f"{LEAST_M:.0f} m stay between them"
)


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Distance to an upright line of 2 m from the rider's ground point, less half the span: as
    flown and should he make a firm stop; a caution should he brake as hard as can be."""
    half = scene.aircraft.half_span_m
    flown = upright_gap_m(scene.track.xyz_m, scene.track.ride.xyz_m) - half
    value = np.array(flown)
    hardest = np.full_like(value[0], np.inf)
    if scene.braking_gap_m is not None:
        firm, hardest = scene.braking_gap_m - half
        value[0] = np.minimum(value[0], firm)
    n, first = value.shape[1], np.arange(len(value))[:, None] == 0
    return (
        Margin(
            margin=value - LEAST_M,
            value=value[0],
            limit=np.full(n, LEAST_M),
            thing=np.full(n, "rider", dtype=object),
            why=_said(scene, value[0], np.where(value[0] < flown[0] - 0.005, FIRM, "as flown")),
            source=BRAKES_SOURCE,
            assumptions=(
                "3 m is the least ever kept to the rider; he is taken as a line 2 m tall",
            ),
        ),
        Margin(
            margin=np.full(n, np.inf),
            soft=np.where(first & (value >= LEAST_M), hardest - LEAST_M, np.inf),
            value=np.where(np.isinf(hardest), np.nan, hardest),
            limit=np.full(n, LEAST_M),
            thing=np.full(n, "rider", dtype=object),
            why=_said(scene, hardest, np.full(n, HARDEST)),
            source=BRAKES_SOURCE,
        ),
    )


def _said(scene: Scene, gap_m: Array, when: NDArray[np.str_]) -> Why:
    def reason(i: int, spot: str) -> str:
        return f"{say.metres(gap_m[i])} between aircraft and rider {when[i]}, {spot}"

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
    lifts="more distance or height from the rider (`--set`)",
)
