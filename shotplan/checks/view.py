"""Whether the camera sees the rider, or something stands between."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground import grid
from shotplan.kernels.rides.runs import stretches
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.ride import STEP_S
from shotplan.scene.margin import Check, Margin, Nature, Remark, Told, Why
from shotplan.scene.picture import to_rider_m
from shotplan.scene.scene import Scene
from shotplan.scene.telling import label, no_ground, told

BRIEF_S = 1.0  # hidden no longer than this the follower finds him again (own choice)
LOSES_S = 3.0  # hidden for longer one that follows by sight has lost him (own setting)
UNKNOWN, UNKNOWN_LOST = (
    no_ground(
        "unknown ground lies between the camera and the rider, {spot}",
        f"the rider is then hidden for {most_s:.0f} s at most",
    )
    for most_s in (BRIEF_S, LOSES_S)
)


def margins(scene: Scene) -> tuple[Margin, ...]:
    """For how long in a row the rider is hidden, against what a follower bridges; and, where it
    follows him by sight, whether it loses him."""
    hidden_by, unknown = _hidden(scene)
    picture = _picture(scene, hidden_by, unknown)
    follows = scene.wish is not None and scene.wish.follows_rider
    if not follows or scene.aircraft.follows_by != "sight":
        return (picture,)
    return picture, _lost(scene, hidden_by, unknown)


def _picture(scene: Scene, hidden_by: NDArray[np.object_], unknown: Bools) -> Margin:
    hidden = hidden_by != ""
    lasts = np.zeros(hidden.size)
    for low, high in stretches(hidden):
        lasts[low:high] = (high - low) * STEP_S
    margin = np.where(~hidden & unknown, np.nan, BRIEF_S - lasts)
    return Margin(
        margin=margin,
        value=lasts,
        limit=np.full(lasts.size, BRIEF_S),
        thing=hidden_by,
        why=_said(scene, hidden_by, lasts),
        remarks=_gaps(scene, hidden_by),
        assumptions=(
            "crowns, woods and buildings are taken as solid; poles and wires hide nothing",
            "asked of the ride as given: a rider off his line may be hidden elsewhere",
        ),
        source=f"own choice: a follower bridges {BRIEF_S:.0f} s",
    )


def _lost(scene: Scene, hidden_by: NDArray[np.object_], unknown: Bools) -> Margin:
    """For how long it has not seen him; once it has lost him, the whole of that, to the end. What
    it does then is its own, and may hit somebody: a harm."""
    hidden, by, low, high = hidden_by != "", hidden_by.copy(), 0, 0
    since = _since_s(hidden)
    lost, doubt = (s > LOSES_S + 0.5 * STEP_S for s in (since, _since_s(hidden | unknown)))
    if np.isinf(scene.enough_m):  # a search flies the whole ride, and a leg of it begins anew
        lost, doubt = np.logical_or.accumulate(lost), np.logical_or.accumulate(doubt)
        if lost.any():
            gone = int(np.argmax(lost))
            low, high = next(run for run in stretches(hidden) if run[0] <= gone < run[1])
            since[gone:], by[gone:] = (high - low) * STEP_S, hidden_by[gone]

    def reason(i: int, spot: str) -> str:
        if since[i] <= LOSES_S:
            return "what follows him by sight does not lose the rider"
        return (
            f"{label(scene, by[i])} hides the rider for {say.seconds(since[i])}: followed by sight "
            f"he is lost {spot}, and from here on what it does is its own"
        )

    beacon = "or follow by a beacon"
    return Margin(
        margin=np.where(doubt & ~lost, np.nan, LOSES_S - since),
        value=since,
        limit=np.full(since.size, LOSES_S),
        thing=by,
        why=told(
            scene, reason, lambda _i: f"{_cure(scene, low, high)}, {beacon}", unknown=UNKNOWN_LOST
        ),
        family="harm",
        source=f"own setting: by sight he is lost after {LOSES_S:.0f} s; no rule names a time",
    )


def _since_s(hidden: Bools) -> Array:
    """`(n,)` for how long he has been hidden."""
    since = np.zeros(hidden.size)
    for low, high in stretches(hidden):
        since[low:high] = np.arange(1, high - low + 1) * STEP_S
    return since


def _said(scene: Scene, by: NDArray[np.object_], lasts_s: Array) -> Why:
    def reason(i: int, spot: str) -> str:
        if (by == "").all():
            return "nothing stands between the camera and the rider"
        what = label(scene, by[i]) if by[i] else "something"
        more = f"; {_loses(scene)}" if lasts_s[i] > BRIEF_S else ": short enough to find him again"
        return f"{what} hides the rider for {say.seconds(lasts_s[i])}, {spot}{more}"

    def advice(i: int) -> str:
        return _cure(scene, *next(run for run in stretches(by != "") if run[0] <= i < run[1]))

    return told(scene, reason, advice, unknown=UNKNOWN)


def _cure(scene: Scene, low: int, high: int) -> str:
    """How not to have him hidden over some samples."""
    along, t = scene.track.ride.along_m[0], scene.track.ride.t_s
    start, end = f"{along[low]:.0f} m", f"{along[high - 1]:.0f} m"
    cut = f"start the shot at {end}" if t[low] < 2.0 else f"end it at {start}"
    return f"film {start} to {end} from the other side or from higher up, or {cut}"


def _loses(scene: Scene) -> str:
    """What becomes of it."""
    if scene.wish is not None and not scene.wish.follows_rider:
        return "it flies on as planned, without him in the picture"
    if scene.aircraft.follows_by == "beacon":
        return "the beacon leads it on, without him in the picture"
    return f"after {LOSES_S:.0f} s one that follows by sight has lost him"


def _hidden(scene: Scene) -> tuple[NDArray[np.object_], Bools]:
    """What first cuts the line from camera to rider `(n,)` ("" free), and where unknown ground
    lies between."""
    start = np.array(scene.track.xyz_m[0])
    end = start + to_rider_m(scene)
    ground = grid.first_cut(scene.site.terrain.grid, start, end)
    thing, which = scene.site.obstacles.opaque.first_cut(start, end)
    ids = [scene.site.obstacles.things[k].id if k >= 0 else "" for k in which]
    by = np.where(ground.at < thing, "ground", np.array(ids, dtype=object)).astype(object)
    return by, np.isfinite(ground.unknown_at)


def _gaps(scene: Scene, by: NDArray[np.object_]) -> tuple[Remark, ...]:
    """Every stretch on which the rider is hidden."""
    if np.isfinite(scene.enough_m):  # a search asks for no words
        return ()
    along = scene.track.ride.along_m[0]
    parts = [
        f"{say.seconds((high - low) * STEP_S)} from {along[low]:.0f} to {along[high - 1]:.0f} m "
        f"({', '.join(label(scene, b) for b in dict.fromkeys(by[low:high]))})"
        for low, high in stretches(by != "")
    ]
    return (Remark("rider hidden: " + ", ".join(parts)),) if parts else ()


CHECK = Check(
    id="view",
    family="picture",
    group="place",
    question="does the camera see the rider?",
    unit="s",
    shown="hidden for {value}, {limit}",
    told=Told("the camera loses the rider, {thing}", strays=""),
    nature=Nature(hits="nothing", placed=False, by_style=True, searched="once"),
    margins=margins,
    wind="none",
    rides="first",
    pointwise=False,
    binds="at-most",
    lifts="a part of the ride with less between it and the rider",
)
