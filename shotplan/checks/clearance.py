"""How near it comes to trees, woods, buildings, poles and wires."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.motion.sensing import contingency_m
from shotplan.kernels.rides.runs import stretches
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.obstacles import REACH_M, Bodies, Thing
from shotplan.model.site import Kind
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Check, Margin, Remark, Words
from shotplan.scene.scene import Scene

WIRE_CAUTION_M = 30.0
WIRE_SOURCE = "network operators' advice to stay 30 to 50 m from lines (reference list, section 8)"
CONTINGENCY_SOURCE = (
    "published sizing of a contingency volume: 3 m position + 3 m holding + 1 m map + "
    "v·1 s + v²/(2·g·tan tilt)"
)
SHARE_REST = 0.05
SHARE_WIRES = 0.01


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Wires, and everything else: each with its own allowed share of rides."""
    obstacles = scene.site.obstacles
    limit = scene.aircraft.half_span_m + scene.site.keep_clear_m
    rest = _margin(scene, obstacles.rest_grown, limit, ("trees", "buildings"), SHARE_REST)
    wires = _margin(
        scene, obstacles.wires_grown, limit, ("wires",), SHARE_WIRES, caution_m=WIRE_CAUTION_M
    )
    told = np.isinf(scene.enough_m)
    remarks = (Remark(_parts(scene)), *_contingency(scene)) if told else ()
    return replace(rest, remarks=remarks, assumptions=obstacles.assumptions), wires


def _margin(
    scene: Scene,
    bodies: Bodies,
    limit_m: float,
    kinds: tuple[Kind, ...],
    share: float,
    caution_m: float = 0.0,
) -> Margin:
    shape = scene.track.known.shape
    n = shape[1]
    enough = limit_m + scene.enough_m
    distance, at = scene.least_along(bodies.least_along, max(enough, caution_m))
    doubt = _doubt_m(scene, bodies, enough)
    unlooked = ~_looked(scene, kinds)
    # Not known how high it is: the level distance is the least it can be.
    least = np.minimum(distance, doubt)
    unknown = (distance >= limit_m) & (unlooked | (doubt < limit_m))
    margin = np.where(unknown, np.nan, np.where(distance < limit_m, distance, least) - limit_m)
    value = np.where(np.isinf(distance) | (doubt < distance), np.nan, distance)[:n]
    start, end = scene.track.xyz_m[0], scene.overrun_end_m[0]
    thing = bodies.nearest(start + at[:n, None] * (end - start)).thing
    things = scene.site.obstacles.things
    soft = np.where(distance < caution_m, distance - caution_m, np.inf).reshape(shape)
    return Margin(
        margin=margin.reshape(shape),
        soft=soft if caution_m else None,
        value=value,
        limit=np.full(n, limit_m),
        thing=np.array([things[t].id if t >= 0 else "" for t in thing], dtype=object),
        share=share,
        why=_why(scene, limit_m, distance[:n], thing, unlooked[:n], kinds, caution_m),
        source="distance to the grown obstacle, common practice",
    )


def _doubt_m(scene: Scene, bodies: Bodies, enough_m: float) -> Array:
    """Level distance `(r * n,)` to what is not known how high it is, along the overrun."""
    if not len(bodies.doubtful_thing):
        return np.full(scene.track.known.size, np.inf)
    return scene.least_along(bodies.least_doubt_along, enough_m)[0]


def _looked(scene: Scene, kinds: tuple[Kind, ...]) -> Bools:
    """Whether somebody looked for `kinds` at the sample `(r * n,)` and all along its overrun."""

    def depth(start_m: Array, end_m: Array, _enough_m: Array | float) -> tuple[Array, Array]:
        found = [
            scene.site.looked_m((start_m + share * (end_m - start_m))[:, :2], kinds)
            for share in np.linspace(0.0, 1.0, 6)
        ]
        return np.minimum.reduce(found), np.zeros(len(start_m))

    def quick(start_m: Array, end_m: Array, _enough_m: Array | float) -> Array:
        half = 0.5 * (end_m - start_m)[:, :2]
        depth = scene.site.looked_m(start_m[:, :2] + half, kinds)
        return np.asarray(depth - np.hypot(half[:, 0], half[:, 1]))

    return scene.least_along(depth, 0.0, quick, sign_only=True)[0] >= 0.0


def _parts(scene: Scene) -> str:
    """The parts of the limit and of what is measured, which add up."""
    aircraft, site = scene.aircraft, scene.site
    limit = aircraft.half_span_m + site.keep_clear_m
    errors = [t.error_m for t in site.obstacles.things]
    doubt = (
        f"; each obstacle is first grown by how far it may be off ({_span(errors)} here)"
        if errors
        else ""
    )
    overrun = float(scene.overrun_m[0].max())
    run = (
        f"; where it flies blind the distance is taken along the {say.metres(overrun)} "
        "at most that it runs on when everything freezes"
        if overrun > 0.0
        else ""
    )
    return (
        f"the limit of {limit:.2f} m is {aircraft.half_span_m:.2f} m half span and "
        f"{site.keep_clear_m:.2f} m keep_clear_m, your own margin{doubt}{run}"
    )


def _span(errors_m: list[float]) -> str:
    least, most = say.metres(min(errors_m)), say.metres(max(errors_m))
    return least if least == most else f"{least} to {most}"


def _contingency(scene: Scene) -> tuple[Remark, ...]:
    """One grouped remark: share of blind samples nearer to a thing as drawn than published."""
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
    more = say.rounded_up(float(wanted[worst] - near[worst]))
    advice = f"keep {more:.1f} m more there, or choose a style that flies where it senses"
    return (Remark(text, caution=True, source=CONTINGENCY_SOURCE, advice=advice),)


def _why(
    scene: Scene,
    limit_m: float,
    distance: Array,
    thing: NDArray[np.intp],
    unlooked: Bools,
    kinds: tuple[Kind, ...],
    caution_m: float,
) -> Callable[[int, Verdict], Words]:
    things = scene.site.obstacles.things
    what = "wires" if kinds == ("wires",) else "trees or buildings"

    def why(i: int, verdict: Verdict) -> Words:
        if i < 0:
            return Words(f"no {what} within {REACH_M:.0f} m of the flight", "nothing to change")
        spot = say.place(float(scene.track.ride.along_m[0, i]), float(scene.track.ride.t_s[i]))
        if verdict == Verdict.UNKNOWN:
            return _unknown(unlooked[i], what, limit_m, spot)
        if thing[i] < 0:
            return Words(f"no {what} within {REACH_M:.0f} m of the flight", "nothing to change")
        it = things[thing[i]]
        blind = scene.blind[0, i]
        reason = (
            f"{_passes(scene, i, it, float(distance[i]))}, {spot}; {say.metres(limit_m)} is kept, "
            f"it {'does not sense' if blind else 'senses'} that way"
        )
        if verdict == Verdict.GO:
            return Words(reason, "nothing to change")
        if distance[i] >= limit_m:
            return Words(
                f"{reason}; wires hide from eyes and sensors, and {caution_m:.0f} m is advised",
                f"leave out {_around(scene, distance < caution_m, i)} of the ride (`from_m`, "
                f"`to_m`), or show the wire to everybody before it flies",
            )
        short = limit_m - float(distance[i])
        return Words(reason, _advice(scene, i, it, limit_m, short, distance < limit_m))

    return why


def _passes(scene: Scene, i: int, it: Thing, distance_m: float) -> str:
    """How near it comes to a thing, in words."""
    if it.role == "wire" and distance_m == 0.0:
        return f"it passes under {_called(it)} or through it: under a wire counts as touching it"
    runs_on = " or would run on to" if scene.blind[0, i] else ""
    return f"{_called(it)} is {say.metres(distance_m)} from where it flies{runs_on}"


def _around(scene: Scene, tight: Bools, i: int) -> str:
    """The part of the ride around sample i where it is too near, with 5 m to each side."""
    low, high = next(r for r in stretches(tight) if r[0] <= i < r[1])
    along = scene.track.ride.along_m[0]
    return f"{math.floor(along[low]) - 5:.0f} to {math.ceil(along[high - 1]) + 5:.0f} m"


def _called(it: Thing) -> str:
    return it.label if it.role in it.label.lower() else f"{it.role} {it.label}"


def _unknown(unlooked: bool, what: str, limit_m: float, spot: str) -> Words:
    if unlooked:
        return Words(
            f"nobody has looked for {what} at {spot}: an empty map is not a clear one",
            f"walk it, draw what stands there, and add [survey] (or a `surveyed` area); "
            f"go if all {what} then stay {say.metres(limit_m)} away",
        )
    return Words(
        f"something stands near {spot} whose height, or the ground it stands on, is not known",
        f"give it a height_m; go if it then stays {say.metres(limit_m)} away",
    )


def _advice(scene: Scene, i: int, it: Thing, limit_m: float, short_m: float, tight: Bools) -> str:
    """What would cure a tight place, each with its number."""
    style = scene.shot.style
    cures = [f"leave out {_around(scene, tight, i)} of the ride (`from_m`, `to_m`)"]
    if tight.all() and hasattr(style, "at"):
        cures = [f"put it over another place (`at`), {say.metres(short_m)} farther from {it.label}"]
    height = getattr(style, "height_m", None)
    raise_m = _raise_m(scene, i, it, limit_m)
    if isinstance(height, float) and raise_m < 60.0:
        to = f"to {say.rounded_up(height + raise_m):.1f} m"
        if hasattr(style, "to_height_m"):
            to = f"by {say.rounded_up(raise_m):.1f} m (`height_m` and `to_height_m`)"
        cures.append(f"raise it {to}, over {it.label}")
    if not it.paced and it.error_m > 0.6 and it.role != "wire":
        cures.append(
            f"pace {it.label} from the track: {it.error_m - 0.5:.1f} m of this is doubt about "
            "where it stands"
        )
    out = getattr(style, "distance_m", None)
    if isinstance(out, float) and it.role != "wire" and out - short_m >= 3.0:
        nearer = math.floor((out - short_m) * 2.0) / 2.0
        if _that_far_out(scene, i, out) and _beyond(scene, i, it):
            cures.append(f"fly it nearer to the rider, `distance_m = {nearer:g}`")
    if it.paced or it.role == "wood":
        cures.append(
            f"this place is {short_m:.1f} m too narrow on that side; "
            f"{scene.site.keep_clear_m:.1f} m of it is your own keep_clear_m"
        )
    return "; or ".join(cures)


def _that_far_out(scene: Scene, i: int, out_m: float) -> bool:
    """Whether the style wants it about so far from the rider at sample i: a fly-by passes him, a
    pull-back goes on."""
    if scene.wish is None or hasattr(scene.shot.style, "to_distance_m"):
        return False
    away = (scene.wish.camera_xyz_m - scene.wish.aim_xyz_m)[0, i, :2]
    return float(np.hypot(away[0], away[1])) < 1.2 * out_m


def _beyond(scene: Scene, i: int, it: Thing) -> bool:
    """Whether the thing stands on the far side of the aircraft, seen from the rider."""
    rider, here = scene.track.ride.xyz_m[0, i, :2], scene.track.xyz_m[0, i, :2]
    nearest = it.where_m[np.linalg.norm(it.where_m - here, axis=1).argmin()]
    return bool((here - rider) @ (nearest - here) > 0.0)


def _raise_m(scene: Scene, i: int, it: Thing, limit_m: float) -> float:
    """How much higher it must fly to pass over a thing's grown top by the limit."""
    ground = scene.site.terrain.ground_m(it.where_m)
    if np.isnan(ground).all():
        return math.inf
    top = float(np.nanmax(ground)) + it.height_m + it.height_error_m
    end = min(float(scene.overrun_end_m[0, i, 2]), float(scene.track.xyz_m[0, i, 2]))
    return max(top + limit_m - end, 0.1)


CHECK = Check(
    id="clearance",
    family="harm",
    question="how near does it come to trees, woods, buildings, poles and wires?",
    unit="m",
    margins=margins,
    wind="none",
)
