"""How near it comes to trees, woods, buildings, poles and wires."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.motion.sensing import contingency_m
from shotplan.kernels.rides.runs import stretches
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.obstacles import REACH_M, Bodies, Thing
from shotplan.model.site import Kind
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Remark, Told, Why, Words
from shotplan.scene.scene import Scene
from shotplan.scene.telling import told

WIRE_CAUTION_M = 30.0
SOURCE = "distance to the grown obstacle, common practice"
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
    limit = scene.keep_m
    rest = _margin(scene, obstacles.rest_grown, limit, ("trees", "buildings"), SHARE_REST)
    wires = _margin(
        scene, obstacles.wires_grown, limit, ("wires",), SHARE_WIRES, caution_m=WIRE_CAUTION_M
    )
    told = np.isinf(scene.enough_m)
    remarks = (Remark(_parts(scene), kind="limit"), *_contingency(scene)) if told else ()
    return replace(rest, remarks=remarks, assumptions=obstacles.assumptions), wires


def _margin(
    scene: Scene, bodies: Bodies, limit_m: float, kinds: tuple[Kind, ...], share: float,
    caution_m: float = 0.0,
) -> Margin:  # fmt: skip
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
    cautions = bool((margin[:n] >= 0.0).all() and (soft[0] < 0.0).any())
    return Margin(
        margin=margin.reshape(shape),
        soft=soft if caution_m else None,
        value=value,
        limit=np.full(n, limit_m),
        thing=np.array([things[t].id if t >= 0 else "" for t in thing], dtype=object),
        share=share,
        why=_said(scene, limit_m, distance[:n], thing, unlooked[:n], kinds, caution_m),
        source=f"{SOURCE}; {WIRE_SOURCE}" if cautions else SOURCE,
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
        f"the limit of {scene.keep_m:.2f} m is {aircraft.half_span_m:.2f} m half span and "
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


def _said(
    scene: Scene, limit_m: float, distance: Array, thing: NDArray[np.intp], unlooked: Bools,
    kinds: tuple[Kind, ...], caution_m: float,
) -> Why:  # fmt: skip
    things = scene.site.obstacles.things
    what = "wires" if kinds == ("wires",) else "trees or buildings"
    nothing = f"no {what} within {REACH_M:.0f} m of the flight"

    def reason(i: int, spot: str) -> str:
        if thing[i] < 0:
            return nothing
        said = (
            f"{_passes(scene, i, things[thing[i]], float(distance[i]))}, {spot}; "
            f"{say.metres(limit_m)} is kept, "
            f"it {'does not sense' if scene.blind[0, i] else 'senses'} that way"
        )
        if limit_m <= distance[i] < caution_m:
            said += f"; wires hide from eyes and sensors, and {caution_m:.0f} m is advised"
        return said

    def advice(i: int) -> str:
        if distance[i] >= limit_m:
            around = _around(scene, distance < caution_m, i)
            return (
                f"leave out {around} of the ride (`from_m`, `to_m`), or show the wire to everybody "
                "before it flies"
            )
        short = limit_m - float(distance[i])
        return _advice(scene, i, things[thing[i]], limit_m, short, distance < limit_m)

    def unknown(i: int, _spot: str) -> Words:
        kept = f"then {'stay' if unlooked[i] else 'stays'} {say.metres(limit_m)} away"
        if unlooked[i]:
            return Words(
                f"nobody has looked for {what} at {{spot}}: an empty map is not a clear one",
                f"walk it, draw what stands there, and add [survey] (or a `surveyed` area); "
                f"go if all {what} {kept}",
            )
        return Words(
            "something stands near {spot} whose height, or the ground it stands on, is not known",
            f"give it a height_m; go if it {kept}",
        )

    return told(scene, reason, advice, unknown=unknown, nothing=nothing)


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


def _advice(scene: Scene, i: int, it: Thing, limit_m: float, short_m: float, tight: Bools) -> str:
    """What would cure a tight place, each with its number."""
    style = scene.shot.style
    cures = [f"leave out {_around(scene, tight, i)} of the ride (`from_m`, `to_m`)"]
    if tight.all() and style.stands_at:
        cures = [
            f"put it over another place (`{style.stands_at}`), {say.metres(short_m)} "
            f"farther from {it.label}"
        ]
    up, out = style.moves("up"), style.moves("out")
    raise_m = _raise_m(scene, i, it, limit_m)
    if up and raise_m < 60.0:
        to = f"to {say.rounded_up(up[0].number + raise_m):.1f} m"
        if len(up) > 1:
            keys = " and ".join(f"`{one.key}`" for one in up)
            to = f"by {say.rounded_up(raise_m):.1f} m ({keys})"
        cures.append(f"raise it {to}, over {it.label}")
    if not it.paced and it.error_m > 0.6 and it.role != "wire":
        cures.append(
            f"pace {it.label} from the track: {it.error_m - 0.5:.1f} m of this is doubt about "
            "where it stands"
        )
    if len(out) == 1 and it.role != "wire" and out[0].number - short_m >= 3.0:
        nearer = math.floor((out[0].number - short_m) * 2.0) / 2.0
        if _that_far_out(scene, i, out[0].number) and _beyond(scene, i, it):
            cures.append(f"fly it nearer to the rider, `{out[0].key} = {nearer:g}`")
    if it.paced or it.role == "wood":
        cures.append(
            f"this place is {short_m:.1f} m too narrow on that side; "
            f"{scene.site.keep_clear_m:.1f} m of it is your own keep_clear_m"
        )
    return "; or ".join(cures)


def _that_far_out(scene: Scene, i: int, out_m: float) -> bool:
    """Whether the style wants it about so far from the rider at sample i: one may pass him."""
    if scene.wish is None:
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
    group="place",
    question="clear of trees and wires?",
    unit="m",
    shown=AGAINST,
    told=Told("it hits {thing}", strays="if it strays"),
    nature=Nature(hits="bodies", placed=True, by_style=True, searched="once"),
    margins=margins,
    wind="none",
)
