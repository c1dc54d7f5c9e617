"""Whether the eyes that count can see it all the time."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.rides.runs import short_runs, stretches
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.day import Person
from shotplan.model.ride import STEP_S
from shotplan.scene import needs
from shotplan.scene.eyesight import FORMULA_SOURCE, counted, feet_m, range_m, view
from shotplan.scene.margin import (
    AGAINST,
    UNKNOWN_GROUND,
    Check,
    GoIf,
    Margin,
    Nature,
    Remark,
    Told,
    Why,
    Words,
    even,
)
from shotplan.scene.scene import Scene
from shotplan.scene.telling import always, label, told

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


class Shown(NamedTuple):
    """What the eyes that decide see of row 0, each `(n,)`: whose they are, how far it is and to
    where they see it, what cuts the view ("" nothing), out of sight, not known."""

    who: list[str]
    slant_m: Array
    limit_m: Array
    cut_by: NDArray[np.object_]
    lost: Bools
    unsure: Bools


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
    slant, limit = chosen([s.slant_m for s in seen])[0], chosen([s.limit_m for s in seen])[0]
    brief = short_runs(hard < 0.0, round(SHORT_GAP_S / STEP_S))
    soft = np.where(brief, np.fmin(soft, hard), soft)
    lost = (hard < 0.0)[0]
    hard = np.where(brief, np.inf, hard)
    who = [seen[b].who for b in best[0]]
    cut_by = np.array([seen[b].cut_by[i] for i, b in enumerate(best[0])], dtype=object)
    shown = Shown(who, slant, limit, cut_by, lost, np.isnan(hard[0]))
    return (
        Margin(
            margin=hard,
            soft=soft,
            value=slant,
            limit=limit,
            thing=cut_by,
            why=_said(scene, shown),
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


def _said(scene: Scene, it: Shown) -> Why:
    within = scene.rules.sight.follow_within_m

    def reason(i: int, spot: str) -> str:
        away = f"it is {say.metres(it.slant_m[i])} from {it.who[i]}, {spot}"
        limit, what = it.limit_m[i], it.cut_by[i] and label(scene, it.cut_by[i])
        if not what:
            return f"{away}; an aircraft of its size is seen to {say.metres(limit)}"
        if limit != within:
            return f"{away}, and {what} cuts the view after {say.metres(limit)}"
        return (
            f"{away}, hidden by {what}, but while it follows it need not be seen nearer than "
            f"{within:.0f} m"
        )

    def advice(i: int) -> str:
        if it.cut_by[i]:
            gone = say.seconds(float(it.lost.sum() * STEP_S))
            return (
                f"it is out of sight for {gone} in all: stand where {label(scene, it.cut_by[i])} "
                "is not between, or fly that stretch on this side of it"
            )
        over = say.metres(say.rounded_up(it.slant_m[i] - it.limit_m[i]))
        return (
            f"stand or fly {over} nearer: an aircraft of {scene.aircraft.span_m:.2f} m is too "
            "small to steer by eye beyond that"
        )

    def unknown(i: int, spot: str) -> Words:
        return _unknown(scene, it, i, spot)

    nothing = f"{it.who[0]} loses it for a moment only"
    return told(scene, reason, advice, unknown=unknown, nothing=nothing)


def _unknown(scene: Scene, it: Shown, i: int, spot: str) -> Words:
    (far, visible), who = range_m(scene), it.who[i]
    if np.isnan(it.slant_m[i]):
        return Words(
            f"where {who} stands, or the ground there, is not known",
            f"give {who} a place to stand; go if it is then seen within {far:.0f} m",
        )
    if visible is None:
        least = math.ceil(float(np.nanmax(it.slant_m[it.unsure], initial=0.0)) / 0.3)
        return Words(
            "how far one can see that day is not known",
            f"give [weather] visibility_m; go if it is {least:.0f} m or more",
            (GoIf("weather.visibility_m", "at-least", least, "m"),),
        )
    return Words(
        f"unknown ground lies between {who} and the aircraft, {spot}",
        f"give terrain or surroundings that cover the {say.metres(it.slant_m[i])} between them; "
        "go if the line of sight is then free",
    )


def _gaps(scene: Scene, lost: Bools) -> tuple[Remark, ...]:
    """Every stretch out of sight, with seconds."""
    if not lost.any():
        return ()
    along = scene.track.ride.along_m[0]
    texts = [
        f"{say.seconds((high - low) * STEP_S)} from {along[low]:.0f} m to {along[high - 1]:.0f} m"
        for low, high in stretches(lost)
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
    words = Words(
        "nobody is named as pilot, so nobody is known to see it",
        "add [[crew]] with role pilot and where they stand; go if it is then seen within "
        f"{range_m(scene)[0]:.0f} m",
    )
    return even(scene, np.nan, always(words), source=str(scene.rules.sight.source))


CHECK = Check(
    id="sight",
    family="rule",
    group="place",
    question="is it seen?",
    unit="m",
    shown=AGAINST,
    told=Told("nobody sees it any more, {thing}", strays="if it runs on"),
    nature=Nature(hits="nothing", placed=False, by_style=True, searched="by stands"),
    margins=margins,
    wind="none",
    rides="first",
    pointwise=False,
    binds="at-most",
    lifts="another place to stand (`shotplan spots` finds one), or more people who watch",
    needs=(needs.PILOT, needs.PILOT_STANDS, needs.VISIBILITY),
)
