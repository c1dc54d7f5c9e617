"""Whether it stays under the ceiling, straight down and to the nearest surface."""

from __future__ import annotations

import numpy as np

from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.judged import Check, Margin, Remark, Words
from shotplan.model.scene import Scene
from shotplan.model.verdict import Verdict


def margins(scene: Scene) -> tuple[Margin, ...]:
    """The pack's own measure decides; both are always computed and said."""
    rule = scene.rules.height
    straight = scene.height_m[0]
    surface = scene.surface_m
    nearest = rule.measured == "nearest-surface"
    value = _nearest(scene, rule.limit_m) if nearest else scene.height_m
    n = straight.size

    def why(i: int, verdict: Verdict) -> Words:
        spot = say.place(float(scene.track.ride.along_m[0, i]), float(scene.track.ride.t_s[i]))
        if verdict == Verdict.UNKNOWN:
            return Words(
                f"the ground below is not known at {spot}",
                f"give terrain that covers it; go if the height stays under "
                f"{say.metres(rule.limit_m)}",
            )
        both = (
            f"{say.metres(straight[i])} above the ground straight below, "
            f"{say.metres(surface[i])} from the nearest surface"
        )
        measure = "from the nearest surface" if nearest else "straight down"
        reason = f"{both}, {spot}; the ceiling is {say.metres(rule.limit_m)} {measure}"
        if verdict == Verdict.GO:
            return Words(reason, "nothing to change")
        over = float(value[0, i]) - rule.limit_m
        cure = f"fly at least {say.rounded_up(over):.1f} m lower there"
        if not nearest and straight[i] - surface[i] > 5.0:
            cure += ", or stay over the high ground: beyond the edge the drop counts as height"
        return Words(reason, cure)

    highest = np.nanmax(straight) if np.isfinite(straight).any() else np.nan
    farthest = np.nanmax(surface) if np.isfinite(surface).any() else np.nan
    both = (
        f"greatest height {say.metres(float(highest))} straight down, "
        f"{say.metres(float(farthest))} to the nearest surface; "
        f"{scene.rules.id} measures {rule.measured.replace('-', ' ')}"
    )
    return (
        Margin(
            margin=rule.limit_m - value,
            value=value[0],
            limit=np.full(n, rule.limit_m),
            thing=np.full(n, rule.measured.replace("-", " "), dtype=object),
            why=why,
            remarks=(Remark(both, source=str(rule.source)),),
            assumptions=("trees and roofs do not count as the surface of the earth",),
            source=str(rule.source),
        ),
    )


def _nearest(scene: Scene, limit_m: float) -> Array:
    """`(r,n)` distance to the nearest surface; beyond row 0 only where it can matter, since it
    is never more than the height straight down. Unknown where missing ground could be nearer and
    the known ground alone is too far."""
    value = np.array(scene.height_m)
    value[0] = scene.surface_m
    rows, cols = np.nonzero(~(value <= limit_m))
    if len(rows):
        found = scene.site.terrain.nearest(np.array(scene.track.xyz_m[rows, cols]))
        doubt = (found.distance_m > limit_m) & (found.missing_m < found.distance_m)
        value[rows, cols] = np.where(doubt | np.isinf(found.distance_m), np.nan, found.distance_m)
    return value


CHECK = Check(
    id="height",
    family="rule",
    question="does it stay under the ceiling the rules set?",
    unit="m",
    margins=margins,
    binds="at-most",
)
