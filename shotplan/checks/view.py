"""Whether the camera sees the rider, or something stands between."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground import grid
from shotplan.kernels.rides.runs import stretches
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.ride import STEP_S
from shotplan.scene.margin import Check, Margin, Nature, Remark, Told, Why
from shotplan.scene.picture import to_rider_m
from shotplan.scene.scene import Scene
from shotplan.scene.telling import label, no_ground, told

BRIEF_S = 1.0  # hidden no longer than this the follower finds him again (own choice)
UNKNOWN = no_ground(
    "unknown ground lies between the camera and the rider, {spot}",
    f"the rider is then hidden for {BRIEF_S:.0f} s at most",
)


def margins(scene: Scene) -> tuple[Margin, ...]:
    """For how long in a row the rider is hidden, against what a follower bridges."""
    hidden_by, unknown = _hidden(scene)
    hidden = hidden_by != ""
    lasts = np.zeros(hidden.size)
    for low, high in stretches(hidden):
        lasts[low:high] = (high - low) * STEP_S
    margin = np.where(~hidden & unknown, np.nan, BRIEF_S - lasts)
    return (
        Margin(
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
        ),
    )


def _said(scene: Scene, by: NDArray[np.object_], lasts_s: Array) -> Why:
    along, t = scene.track.ride.along_m[0], scene.track.ride.t_s

    def reason(i: int, spot: str) -> str:
        if (by == "").all():
            return "nothing stands between the camera and the rider"
        what = label(scene, by[i]) if by[i] else "something"
        more = f"; {_loses(scene)}" if lasts_s[i] > BRIEF_S else ": short enough to find him again"
        return f"{what} hides the rider for {say.seconds(lasts_s[i])}, {spot}{more}"

    def advice(i: int) -> str:
        low, high = next(run for run in stretches(by != "") if run[0] <= i < run[1])
        start, end = f"{along[low]:.0f} m", f"{along[high - 1]:.0f} m"
        cut = f"start the shot at {end}" if t[low] < 2.0 else f"end it at {start}"
        return f"film {start} to {end} from the other side or from higher up, or {cut}"

    return told(scene, reason, advice, unknown=UNKNOWN)


def _loses(scene: Scene) -> str:
    """What becomes of it."""
    if scene.wish is not None and not scene.wish.follows_rider:
        return "it flies on as planned, without him in the picture"
    if scene.aircraft.follows_by == "beacon":
        return "the beacon leads it on, without him in the picture"
    return "a follower that follows by sight loses him there"


def _hidden(scene: Scene) -> tuple[NDArray[np.object_], NDArray[np.bool_]]:
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
)
