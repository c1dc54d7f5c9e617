"""What is said of what it flies near, and what would cure a tight place."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.rides.runs import stretches
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.obstacles import REACH_M, Thing
from shotplan.model.site import Kind
from shotplan.scene.margin import Why, Words
from shotplan.scene.scene import Scene
from shotplan.scene.telling import told


def said(
    scene: Scene, limit_m: float, distance: Array, thing: NDArray[np.intp], unlooked: Bools,
    kinds: tuple[Kind, ...], runs_on: Bools,
) -> Why:  # fmt: skip
    """Of the distance to things `(n,)`, taken from the overrun where it `runs_on (n,)`."""
    things = scene.site.obstacles.things
    what = "wires" if kinds == ("wires",) else "trees or buildings"
    nothing = f"no {what} within {REACH_M:.0f} m of the flight"

    def reason(i: int, spot: str) -> str:
        if thing[i] < 0:
            return nothing
        return (
            f"{passes(things[thing[i]], float(distance[i]), runs_on[i])}, {spot}; "
            f"{say.metres(limit_m)} is kept, "
            f"it {'does not sense' if scene.blind[0, i] else 'senses'} that way"
        )

    def advice(i: int) -> str:
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


def passes(it: Thing, distance_m: float, runs_on: bool) -> str:
    """How near it comes to a thing, in words."""
    if it.role == "wire" and distance_m == 0.0:
        return f"it passes under {called(it)} or through it: under a wire counts as touching it"
    or_on = " or would run on to" if runs_on else ""
    return f"{called(it)} is {say.metres(distance_m)} from where it flies{or_on}"


def left_out(scene: Scene, tight: Bools, i: int) -> str:
    """To leave out the part of the ride around sample i where it is too near, and 5 m to each
    side, within the shot."""
    low, high = next(r for r in stretches(tight) if r[0] <= i < r[1])
    along, shot = scene.track.ride.along_m[0], scene.shot
    from_m = max(math.floor(along[low]) - 5.0, math.floor(shot.from_m))
    to_m = min(math.ceil(along[high - 1]) + 5.0, math.ceil(shot.to_m))
    if from_m <= shot.from_m and to_m >= shot.to_m:
        return "leave this shot out: no part of it is long enough and far enough away"
    return f"leave out {from_m:.0f} to {to_m:.0f} m of the ride (`from_m`, `to_m`)"


def called(it: Thing) -> str:
    """A thing with its role, if its name does not say it."""
    return it.label if it.role in it.label.lower() else f"{it.role} {it.label}"


def _advice(scene: Scene, i: int, it: Thing, limit_m: float, short_m: float, tight: Bools) -> str:
    """What would cure a tight place, each with its number."""
    style = scene.shot.style
    cures = [left_out(scene, tight, i)]
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
    top = scene.site.obstacles.top_m(it)
    end = min(float(scene.overrun_end_m[0, i, 2]), float(scene.track.xyz_m[0, i, 2]))
    return max(top + limit_m - end, 0.1)
