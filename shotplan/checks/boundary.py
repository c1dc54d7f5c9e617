"""Whether it stays inside the area where it may be."""

from __future__ import annotations

from functools import partial

import numpy as np

from shotplan.kernels.solids.footprints import inside_m
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Check, Margin, Words
from shotplan.scene.scene import Scene


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Level distance inside the boundary, less half the span."""
    outline = scene.site.boundary
    shape = scene.track.known.shape
    half = scene.aircraft.half_span_m
    if outline is None:
        value = np.full(shape, np.nan)
    else:
        inside = partial(inside_m, outline)
        value = scene.least_here(lambda p: inside(p[:, :2]), half + scene.enough_m) - half

    def why(i: int, verdict: Verdict) -> Words:
        if verdict == Verdict.UNKNOWN:
            return Words(
                "no boundary is drawn, or the place is not known: where it may fly is not said",
                "draw one polygon with role `boundary`; go if the flight stays inside it",
            )
        spot = say.place(float(scene.track.ride.along_m[0, i]), float(scene.track.ride.t_s[i]))
        inside = float(value[0, i])
        if inside >= 0.0:
            return Words(f"{say.metres(inside)} inside the boundary, {spot}", "nothing to change")
        return Words(
            f"{say.metres(-inside)} outside the boundary, {spot}",
            f"bring it {say.metres(-inside)} nearer, or ask for more ground and draw it",
        )

    n = shape[1]
    return (
        Margin(
            margin=value,
            value=value[0],
            limit=np.zeros(n),
            thing=np.full(n, "boundary" if outline is not None else "", dtype=object),
            why=why,
            source="the boundary as drawn",
        ),
    )


CHECK = Check(
    id="boundary",
    family="rule",
    question="does it stay inside the area where it may be?",
    unit="m",
    margins=margins,
    wind="none",
)
