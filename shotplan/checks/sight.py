"""Whether the eyes that count can see it all the time."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.rides.runs import short_runs
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.day import Person
from shotplan.model.ride import STEP_S
from shotplan.model.verdict import Verdict
from shotplan.scene.eyesight import FORMULA_SOURCE, counted, feet_m, range_m, view
from shotplan.scene.margin import UNKNOWN_GROUND, Check, GoIf, Margin, Remark, Words
from shotplan.scene.scene import Scene

SHORT_GAP_S = 2.0


class Seen(NamedTuple):
    """What one pair of eyes sees. `slant_m`, `limit_m (r,n)`; `cut_by (n,)` row 0's, "" free;
    `hard`, `soft (r,n)` margins, NaN unknown."""

    who: str
    slant_m: Array
    limit_m: Array
    cut_by: NDArray[np.object_]
    hard: Array
    soft: Array


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Slant distance to the eye that decides, against how far it sees that way."""
    seen = [_eyes(scene, person, where) for person, where in counted(scene)]
    if not seen:
        return (_nobody(scene),)
    rank = np.stack([np.where(np.isnan(s.hard), -1e9, s.hard) for s in seen])
    best = rank.argmax(axis=0)

    def chosen(rows: list[Array]) -> Array:
        return np.asarray(np.take_along_axis(np.stack(rows), best[None], axis=0)[0], dtype=float)

    hard, soft = chosen([s.hard for s in seen]), chosen([s.soft for s in seen])
    doubt = np.isnan(np.stack([s.hard for s in seen])).any(axis=0)
    hard = np.where((hard < 0.0) & doubt, np.nan, hard)
    slant, limit = chosen([s.slant_m for s in seen]), chosen([s.limit_m for s in seen])
    brief = short_runs(hard < 0.0, round(SHORT_GAP_S / STEP_S))
    soft = np.where(brief, np.fmin(soft, hard), soft)
    lost = (hard < 0.0)[0]
    hard = np.where(brief, np.inf, hard)
    cut_by = np.array([seen[b].cut_by[i] for i, b in enumerate(best[0])], dtype=object)
    return (
        Margin(
            margin=hard,
            soft=soft,
            value=slant[0],
            limit=limit[0],
            thing=cut_by,
            why=_why(scene, seen, best[0], lost, np.isnan(hard[0]), slant[0], limit[0], cut_by),
            remarks=(*_gaps(scene, lost), *_stand_remarks(scene)),
            assumptions=_assumptions(scene),
            source=str(scene.rules.sight.source),
        ),
    )


def _eyes(scene: Scene, person: Person, counts: Bools) -> Seen:
    """How one person sees the aircraft at every sample; not at all where they do not count."""
    shape = scene.blind.shape
    eye = feet_m(scene, person)
    if eye is None:
        nan = np.full(shape, np.nan)
        none = np.full(shape[1], "", dtype=object)
        return Seen(person.name, nan, nan, none, nan, np.full(shape, np.inf))
    eye[..., 2] += person.eye_m
    blank = np.isnan(eye[..., 2])
    eye = np.where(blank[..., None], scene.track.xyz_m, eye)
    far, visible = range_m(scene)
    asked = far if scene.rules.sight.distance_limit else np.inf
    slant, cut_m, unknown, cut_by = view(scene, eye, asked)
    cut_by[unknown[0]] = UNKNOWN_GROUND
    if scene.rules.sight.distance_limit:
        hard = np.minimum(cut_m, far) - slant
        soft = np.full(shape, np.inf)
    else:  # the formula only cautions: a free line of sight is never broken by distance
        hard = np.where(np.isinf(cut_m), np.maximum(far - slant, 0.0), cut_m - slant)
        soft = far - slant
    if visible is None and scene.rules.sight.distance_limit:
        hard = np.where(hard >= 0.0, np.nan, hard)
    hard = np.where((hard >= 0.0) & unknown, np.nan, hard)
    within = scene.rules.sight.follow_within_m
    rescued = np.zeros(shape, dtype=bool)
    if within is not None and _follows(scene) and "pilot" in person.roles:
        rescued = (slant < within) & ~(hard >= within - slant)
        hard = np.where(rescued, within - slant, hard)
    hard = np.where(blank, np.nan, hard)
    hard = np.where(counts, hard, -np.inf)
    slant = np.where(blank, np.nan, slant)
    shown = np.where(rescued, within or 0.0, np.minimum(cut_m, far))
    return Seen(person.name, slant, shown, cut_by, hard, soft)


def _follows(scene: Scene) -> bool:
    return scene.wish is not None and scene.wish.follows_rider


def _why(
    scene: Scene,
    seen: list[Seen],
    best: NDArray[np.intp],
    lost: Bools,
    unsure: Bools,
    slant: Array,
    limit: Array,
    cut_by: NDArray[np.object_],
) -> Callable[[int, Verdict], Words]:
    along, t = scene.track.ride.along_m[0], scene.track.ride.t_s

    def why(i: int, verdict: Verdict) -> Words:
        who = seen[best[max(i, 0)]].who
        far, visible = range_m(scene)
        least = math.ceil(float(np.nanmax(slant[unsure], initial=0.0)) / 0.3)
        if i < 0:
            return Words(f"{who} loses it for a moment only", "nothing to change")
        spot = say.place(float(along[i]), float(t[i]))
        if verdict == Verdict.UNKNOWN:
            if np.isnan(slant[i]):
                return Words(
                    f"where {who} stands, or the ground there, is not known",
                    f"give {who} a place to stand; go if it is then seen within {far:.0f} m",
                )
            if visible is None:
                return Words(
                    "how far one can see that day is not known",
                    f"give [weather] visibility_m; go if it is {least:.0f} m or more",
                    (GoIf("weather.visibility_m", "at-least", least, "m"),),
                )
            return Words(
                f"unknown ground lies between {who} and the aircraft, {spot}",
                f"give terrain that covers the {say.metres(float(slant[i]))} between them; go if "
                "the line of sight is then free",
            )
        away = f"it is {say.metres(float(slant[i]))} from {who}, {spot}"
        within = scene.rules.sight.follow_within_m
        what = _named(scene, cut_by[i]) if cut_by[i] else ""
        if what and limit[i] == within:
            reason = (
                f"{away}, hidden by {what}, but while it follows it need not be seen nearer than "
                f"{within:.0f} m"
            )
        elif what:
            reason = f"{away}, and {what} cuts the view after {say.metres(float(limit[i]))}"
        else:
            reason = f"{away}; an aircraft of its size is seen to {say.metres(float(limit[i]))}"
        if verdict == Verdict.GO:
            return Words(reason, "nothing to change")
        gone = float(lost.sum() * STEP_S)
        if what:
            return Words(
                reason,
                f"it is out of sight for {say.seconds(gone)} in all: stand where {what} is not "
                "between, or fly that stretch on this side of it",
            )
        over = float(slant[i] - limit[i])
        return Words(
            reason,
            f"stand or fly {say.metres(say.rounded_up(over))} nearer: an aircraft of "
            f"{scene.aircraft.span_m:.2f} m is too small to steer by eye beyond that",
        )

    return why


def _named(scene: Scene, cut_by: str) -> str:
    """What cuts the view, as a person calls it."""
    labels = {t.id: t.label for t in scene.site.obstacles.things}
    return {"ground": "the ground", UNKNOWN_GROUND: UNKNOWN_GROUND}.get(cut_by) or labels[cut_by]


def _gaps(scene: Scene, lost: Bools) -> tuple[Remark, ...]:
    """Every stretch out of sight, with seconds."""
    if not lost.any():
        return ()
    edges = np.flatnonzero(np.diff(np.concatenate([[0], lost.astype(int), [0]])))
    along = scene.track.ride.along_m[0]
    texts = [
        f"{say.seconds((high - low) * STEP_S)} from {along[low]:.0f} m to {along[high - 1]:.0f} m"
        for low, high in zip(edges[::2], edges[1::2], strict=True)
    ]
    return (Remark("out of sight: " + ", ".join(texts)),)


def _stand_remarks(scene: Scene) -> tuple[Remark, ...]:
    eyes = scene.rules.sight.eyes
    spotters = scene.day.who("spotter")
    if eyes == "pilot" and spotters:
        names = ", ".join(p.name for p in spotters)
        return (
            Remark(
                f"{names} watches, but under {scene.rules.id} only the pilot's own sight counts",
                source=str(scene.rules.sight.source),
            ),
        )
    return ()


def _assumptions(scene: Scene) -> tuple[str, ...]:
    within = scene.rules.sight.follow_within_m
    lines = ["crowns, woods and buildings are taken as solid; poles and wires hide nothing"]
    if within is not None and _follows(scene):
        lines.append(
            f"while it follows, nearer than {within:.0f} m to the pilot (slant) it need not be seen"
        )
    if not scene.rules.sight.distance_limit:
        lines.append("the distance formula is European guidance: beyond it is only a caution here")
    lines.append(
        "asked of the undisturbed ride alone: the others stray from the track that is seen by no "
        "more than the corridor"
    )
    return (*lines, FORMULA_SOURCE)


def _nobody(scene: Scene) -> Margin:
    shape = scene.blind.shape
    nan = np.full(shape[1], np.nan)
    far, _ = range_m(scene)

    def why(_i: int, _verdict: Verdict) -> Words:
        return Words(
            "nobody is named as pilot, so nobody is known to see it",
            f"add [[crew]] with role pilot and where they stand; go if it is then seen within "
            f"{far:.0f} m",
        )

    return Margin(
        margin=np.full(shape, np.nan),
        value=nan,
        limit=nan,
        thing=np.full(shape[1], "", dtype=object),
        why=why,
        source=str(scene.rules.sight.source),
    )


CHECK = Check(
    id="sight",
    family="rule",
    question="can the eyes that count see it all the time?",
    unit="m",
    margins=margins,
    wind="none",
    rides="first",
    pointwise=False,
    binds="at-most",
)
