"""How near it comes to the ground itself, cliffs and water included."""

from __future__ import annotations

import numpy as np

from shotplan.kernels.segments import least_along
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.judged import Check, Margin, Remark, Words
from shotplan.model.scene import Scene
from shotplan.model.verdict import Verdict


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Distance to the nearest point of the surface, from the overrun where blind."""
    shape = scene.blind.shape
    terrain = scene.site.terrain
    start = scene.track.xyz_m.reshape(-1, 3)
    end = scene.overrun_end_m.reshape(-1, 3)
    least_height = scene.site.least_height_m(start[:, :2])
    fixed = scene.aircraft.half_span_m + scene.site.keep_clear_m + terrain.error_m
    limit = fixed + least_height
    value, _ = least_along(terrain.distance_m, start, end, 0.01)
    missing = _missing_m(scene, start, end, value)
    unknown = (value >= limit) & ((missing < value) | np.isinf(value))
    margin = np.where(unknown, np.nan, value - limit)
    n = shape[1]

    def why(i: int, verdict: Verdict) -> Words:
        spot = say.place(float(scene.track.ride.along_m[0, i]), float(scene.track.ride.t_s[i]))
        if verdict == Verdict.UNKNOWN:
            return Words(
                f"the ground is not known near {spot}",
                f"give terrain that covers it; go if the ground stays {say.metres(limit[i])} away",
            )
        reason = (
            f"the ground is {say.metres(value[i])} away, {spot}; {say.metres(limit[i])} is kept"
        )
        if verdict == Verdict.GO:
            return Words(reason, "nothing to change")
        return Words(reason, f"fly {limit[i] - value[i]:.1f} m higher or farther from the slope")

    parts = (
        f"the limit of {limit[0]:.2f} m is {scene.aircraft.half_span_m:.2f} m half span, "
        f"{scene.site.keep_clear_m:.2f} m keep_clear_m, {terrain.error_m:.2f} m terrain error and "
        f"{least_height[0]:.2f} m for low things nobody drew"
    )
    return (
        Margin(
            margin=margin.reshape(shape),
            value=np.where(np.isinf(value), np.nan, value)[:n],
            limit=limit[:n],
            thing=np.full(n, "ground", dtype=object),
            why=why,
            share=0.05,
            remarks=(Remark(parts),),
            assumptions=terrain.assumptions,
            source=terrain.source,
        ),
    )


def _missing_m(scene: Scene, start_m: Array, end_m: Array, value_m: Array) -> Array:
    """Least level distance to missing ground along the overruns, asked only where it could be
    nearer than the ground that is known."""
    terrain = scene.site.terrain
    missing = terrain.nearest(start_m).missing_m
    reach = np.linalg.norm(end_m - start_m, axis=1)
    near = missing - reach < value_m
    if near.any():
        missing[near], _ = least_along(
            lambda p: terrain.nearest(p).missing_m, start_m[near], end_m[near], 0.05
        )
    return missing


CHECK = Check(
    id="ground",
    family="harm",
    question="how near does it come to the ground, cliffs and water included?",
    unit="m",
    margins=margins,
)
