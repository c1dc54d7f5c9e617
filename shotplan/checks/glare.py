"""Whether those who watch the aircraft look into the sun."""

from __future__ import annotations

import numpy as np

from shotplan.kernels.light.light import GLARE_DEG, angle_rad
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.ride import STEP_S
from shotplan.model.verdict import Verdict
from shotplan.scene import sunlight
from shotplan.scene.margin import Check, Margin, Remark, Words
from shotplan.scene.scene import Scene
from shotplan.scene.watching import Watcher, watchers

NEAR_DEG = 50.0
SOURCE = (
    "practice: keep it 25° off the sun as seen by who watches, be wary to 50° (from memory; a "
    "simulator study of the US aviation authority finds glare worst straight ahead)"
)


def margins(scene: Scene) -> tuple[Margin, ...]:
    """The least angle between where somebody looks and the sun, while the sun is up there."""
    seen = watchers(scene)
    if not seen:
        return (_nobody(scene),)
    angles = np.stack([_angle_deg(scene, w) for w in seen])
    dazzling = np.stack([_sun_up(scene, w) for w in seen])
    # A stand that is not known may be any: it matters only while the sun is up.
    counted = np.where(dazzling, angles, np.inf)
    rank = np.where(np.isnan(counted), -1.0, counted)
    who = rank.argmin(axis=0)
    least = np.take_along_axis(counted, who[None], axis=0)[0]
    known = np.where(np.isnan(counted), np.inf, counted).min(axis=0)
    margin = np.where(np.isnan(least) & (known < GLARE_DEG), known, least) - GLARE_DEG
    names = np.array([seen[k].person.name for k in who], dtype=object)

    def why(i: int, verdict: Verdict) -> Words:
        if i < 0:
            return Words("the sun is not up where they look", "nothing to change")
        if verdict == Verdict.UNKNOWN:
            return Words(
                f"where {names[i]} stands, or the ground there, is not known",
                f"give {names[i]} a place to stand; go if the sun is then {GLARE_DEG:.0f}° or more "
                "off where it flies",
            )
        spot = say.place(float(scene.track.ride.along_m[0, i]), float(scene.track.ride.t_s[i]))
        nearest = f"{margin[i] + GLARE_DEG:.0f}° to the sun, {spot}"
        if verdict == Verdict.GO:
            return Words(f"{names[i]} looks no nearer than {nearest}", "nothing to change")
        reason = f"{names[i]} looks as near as {nearest}"
        gone = float((margin < 0.0).sum() * STEP_S)
        return Words(
            reason,
            f"{say.seconds(gone)} of it are nearer than {GLARE_DEG:.0f}° to the sun: stand with "
            "the sun behind, or fly at another hour",
        )

    return (
        Margin(
            margin=margin,
            value=margin + GLARE_DEG,
            limit=np.full(least.size, GLARE_DEG),
            thing=names,
            why=why,
            remarks=tuple(
                r for w, a, up in zip(seen, angles, dazzling, strict=True)
                for r in _remarks(scene, w, a, up)
            ),
            assumptions=(
                "only the ground hides the sun from who watches; where the ground toward it is "
                "not known the sun is taken as up",
            ),
            source=SOURCE,
        ),
    )  # fmt: skip


def _angle_deg(scene: Scene, watcher: Watcher) -> Array:
    """`(n,)` between the way to the aircraft and the sun; NaN where the eye is not known."""
    eye_to_aircraft = scene.track.xyz_m[0] - watcher.eye_m
    found = np.degrees(angle_rad(eye_to_aircraft, scene.toward_sun))
    return np.where(np.isnan(eye_to_aircraft).any(axis=1), np.nan, found)


def _sun_up(scene: Scene, watcher: Watcher) -> Bools:
    """Whether the sun shines in that eye: up, and no known ground before it."""
    found = sunlight.direct(scene.site, watcher.eye_m, scene.toward_sun, things=False)
    return np.asarray(~(found.lit == 0.0))


def _remarks(scene: Scene, watcher: Watcher, angle_deg: Array, up: Bools) -> list[Remark]:
    """For which seconds, and where along the ride, one watcher is near the sun."""
    with np.errstate(invalid="ignore"):
        near = up & (angle_deg < NEAR_DEG)
    if not near.any():
        return []
    within = near & (angle_deg < GLARE_DEG)
    said = []
    for flags, degrees in ((within, GLARE_DEG), (near & ~within, NEAR_DEG)):
        if flags.any():
            low, high = scene.track.ride.t_s[flags][[0, -1]]
            said.append(
                f"within {degrees:.0f}° for {say.seconds(float(flags.sum() * STEP_S))} "
                f"(between {low:.0f} and {high:.0f} s)"
            )
    return [Remark(f"{watcher.person.name} looks toward the sun: {', '.join(said)}")]


def _nobody(scene: Scene) -> Margin:
    n = scene.track.ride.t_s.size
    up = scene.sun_rad[1] > 0.0

    def why(i: int, _verdict: Verdict) -> Words:
        if i < 0:
            return Words("the sun is down", "nothing to change")
        return Words(
            "nobody is named as pilot or spotter, so nobody is known to look into the sun",
            f"add [[crew]] and where they stand; go if the sun is then {GLARE_DEG:.0f}° or more "
            "off where it flies",
        )

    return Margin(
        margin=np.where(up, np.nan, np.inf),
        value=np.full(n, np.nan),
        limit=np.full(n, GLARE_DEG),
        thing=np.full(n, "", dtype=object),
        why=why,
        source=SOURCE,
    )


CHECK = Check(
    id="glare",
    family="picture",
    question="does anybody who watches it look into the sun?",
    unit="°",
    margins=margins,
    wind="none",
    rides="first",
    group="wind and light",
)
