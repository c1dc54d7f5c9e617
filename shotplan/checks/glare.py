"""Whether those who watch the aircraft look into the sun."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.light.light import GLARE_DEG, angle_rad
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.ride import STEP_S
from shotplan.model.verdict import Verdict
from shotplan.scene import needs, sunlight
from shotplan.scene.margin import Check, Margin, Nature, Remark, Told, Why, Words, even
from shotplan.scene.scene import Scene
from shotplan.scene.telling import told
from shotplan.scene.watching import Watcher, watchers

NEAR_DEG = 50.0
SOURCE = (
    "practice: keep it 25° off the sun as seen by who watches, be wary to 50° (from memory; a "
    "simulator study of the US aviation authority finds glare worst straight ahead)"
)
GO_IF = f"go if the sun is then {GLARE_DEG:.0f}° or more off where it flies"


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

    return (
        Margin(
            margin=margin,
            value=margin + GLARE_DEG,
            limit=np.full(least.size, GLARE_DEG),
            thing=names,
            why=_said(scene, names, margin),
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


def _said(scene: Scene, names: NDArray[np.object_], margin: Array) -> Why:
    def reason(i: int, spot: str) -> str:
        looks = "as near as" if margin[i] < 0.0 else "no nearer than"
        return f"{names[i]} looks {looks} {margin[i] + GLARE_DEG:.0f}° to the sun, {spot}"

    def advice(_i: int) -> str:
        gone = say.seconds(float((margin < 0.0).sum() * STEP_S))
        return f"{gone} of it are nearer than {GLARE_DEG:.0f}° to the sun: fly at another hour"

    def unknown(i: int, _spot: str) -> Words:
        return Words(
            f"where {names[i]} stands, or the ground there, is not known",
            f"give {names[i]} a place to stand; {GO_IF}",
        )

    nothing = "the sun is not up where they look"
    return told(scene, reason, advice, unknown=unknown, nothing=nothing)


def _nobody(scene: Scene) -> Margin:
    unknown = Words(
        "nobody is named as pilot or spotter, so nobody is known to look into the sun",
        f"add [[crew]] and where they stand; {GO_IF}",
    )

    def why(i: int, _verdict: Verdict) -> Words:
        return Words("the sun is down") if i < 0 else unknown

    nobody = even(scene, np.nan, why, limit=GLARE_DEG, source=SOURCE)
    return replace(nobody, margin=np.where(scene.sun_rad[1] > 0.0, np.nan, np.inf))


CHECK = Check(
    id="glare",
    family="picture",
    group="wind and light",
    question="does anybody look into the sun?",
    unit="°",
    shown="{value} off the sun, {limit}",
    told=Told("{thing} looks into the sun", strays=""),
    nature=Nature(hits="nothing", placed=False, by_style=False, searched="never"),
    margins=margins,
    waits=True,
    wind="none",
    rides="first",
    needs=(needs.PILOT, needs.ALL_STAND),
)
