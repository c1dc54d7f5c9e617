"""What is only to be known, whatever the margin: wires near by, crowns overhead, the published
contingency distance."""

from __future__ import annotations

import numpy as np

from shotplan.checks.clearance.said import called, left_out, passes
from shotplan.kernels.motion.sensing import contingency_m
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.scene.margin import Margin, Remark
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

WIRE_CAUTION_M = 30.0
WIRE_SOURCE = (
    "network operators' advice: 100 to 150 ft (a US electric co-operative, July 2020), 50 m (a UK "
    "operator with the CAA, August 2019), both at second hand"
)
TRUNKS_SOURCE = "trunks under crowns are in no survey from above, common practice"
CONTINGENCY_SOURCE = (
    "sizing of a contingency volume, JARUS SORA 2.5 Annex A at second hand: 3 m position + "
    "3 m holding + 1 m map + v·1 s + v²/(2·g·tan tilt)"
)
BARELY_M = 0.01
NO_GROUND = "the ground is not known at {spot}"


def near_wires(scene: Scene) -> Margin:
    """Nearer than 30 m to a wire, from the whole overrun, whatever the margin; level to one
    whose height is not known."""
    wires, shape = scene.site.obstacles.wires_grown, scene.track.known.shape
    n = shape[1]
    distance, at = scene.least_along(wires.least_along, WIRE_CAUTION_M, sensed=False)
    flat = wires.less_doubt(WIRE_CAUTION_M)
    level, level_at = np.full(distance.shape, np.inf), at
    if len(flat.doubtful_thing):
        level, level_at = scene.least_along(flat.least_doubt_along, WIRE_CAUTION_M, sensed=False)
    by_level = level < distance
    near = np.where(by_level, level, distance)
    start, end = scene.track.xyz_m[0], scene.stop_end_m[0]
    points = start + np.where(by_level, level_at, at)[:n, None] * (end - start)
    thing = np.where(by_level[:n], flat.nearest_doubt(points).thing, wires.nearest(points).thing)
    things = scene.site.obstacles.things
    value = np.where(np.isinf(near), np.nan, near)[:n]

    def reason(i: int, spot: str) -> str:
        how = ", measured level, for its height is not known" if by_level[i] else ""
        said = passes(things[thing[i]], float(near[i]), True)
        return (
            f"{said}, {spot}{how}; wires hide from eyes and sensors, and {WIRE_CAUTION_M:.0f} m is "
            "advised"
        )

    def advice(i: int) -> str:
        cut = left_out(scene, near[:n] < WIRE_CAUTION_M, i)
        return f"{cut}, or show the wire to everybody before it flies"

    return Margin(
        margin=np.full(n, np.inf),
        soft=np.where(near < WIRE_CAUTION_M, near - WIRE_CAUTION_M, np.inf).reshape(shape),
        value=value,
        limit=np.full(n, WIRE_CAUTION_M),
        thing=np.array([things[t].id if t >= 0 else "" for t in thing], dtype=object),
        why=told(
            scene,
            reason,
            advice,
            unknown=no_ground(NO_GROUND, f"it then keeps {WIRE_CAUTION_M:.0f} m from wires"),
        ),
        source=WIRE_SOURCE,
    )


def under_crowns(scene: Scene) -> Margin:
    """Below the crowns of a wood that is open beneath: its trunks are not drawn."""
    beneath, shape = scene.site.obstacles.beneath, scene.track.known.shape
    n = shape[1]
    distance, at = scene.least_along(beneath.least_along, 2.0 * BARELY_M)
    under = distance <= 0.0
    start, end = scene.track.xyz_m[0], scene.overrun_end_m[0]
    thing = beneath.nearest(start + at[:n, None] * (end - start), 1.0).thing
    things = scene.site.obstacles.things
    crowns = np.array([things[t].base_m if t >= 0 else np.nan for t in thing])
    height = scene.height_m[0]

    def reason(i: int, spot: str) -> str:
        it = things[thing[i]]
        return (
            f"it flies under the crowns of {called(it)}, {say.metres(height[i])} up where they "
            f"begin at {it.base_m:g} m, {spot}: nobody has drawn its trunks"
        )

    def advice(i: int) -> str:
        cut = left_out(scene, under[:n], i)
        return f"{cut}, or fly over the wood, or pace its trunks and draw each as a tree"

    return Margin(
        margin=np.full(n, np.inf),
        soft=np.where(under, _below(scene, crowns, under), np.inf).reshape(shape),
        value=height,
        limit=crowns,
        thing=np.array([things[t].id if t >= 0 else "" for t in thing], dtype=object),
        why=told(
            scene, reason, advice, unknown=no_ground(NO_GROUND, "it then flies over the crowns")
        ),
        source=TRUNKS_SOURCE,
    )


def _below(scene: Scene, crowns_m: Array, under: Bools) -> Array:
    """`(r * n,)` how far below the crowns; of the disturbed rides only that it is."""
    below = np.full(under.shape, -BARELY_M)
    n = len(crowns_m)
    below[:n] = np.fmin(np.nan_to_num(scene.height_m[0] - crowns_m, nan=-BARELY_M), -BARELY_M)
    return below


def contingency(scene: Scene) -> tuple[Remark, ...]:
    """One grouped remark, no caution, for the disturbed rides hold what it holds: the share of
    blind samples nearer to a thing as drawn than published."""
    blind = scene.blind[0]
    if not blind.any():
        return ()
    obstacles = scene.site.obstacles
    here = scene.track.xyz_m[0][blind]
    speed = scene.speed_m_s[0][blind]
    wanted = contingency_m(speed, scene.aircraft.max_tilt_rad)
    near = np.minimum(
        obstacles.rest_drawn.nearest(here).distance_m,
        obstacles.wires_drawn.nearest(here).distance_m,
    )
    short = near < wanted
    if not short.any():
        return ()
    worst = int(np.argmax(wanted - near))
    text = (
        f"{float(short.mean()):.0%} of the stretch flown blind is nearer to something than the "
        f"published contingency distance ({say.metres(float(near[worst]))} where "
        f"{say.metres(float(wanted[worst]))} is wanted at {say.speed(float(speed[worst]))})"
    )
    return (Remark(text, source=CONTINGENCY_SOURCE),)
