"""Whether the camera sees the rider, or something stands between."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground import grid
from shotplan.kernels.rides.runs import runs
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.ride import STEP_S
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Check, Margin, Remark, Words
from shotplan.scene.picture import to_rider_m
from shotplan.scene.scene import Scene

BRIEF_S = 1.0  # hidden no longer than this the follower finds him again (own choice)


def margins(scene: Scene) -> tuple[Margin, ...]:
    """For how long in a row the rider is hidden, against what a follower bridges."""
    hidden_by, unknown = _hidden(scene)
    hidden = hidden_by != ""
    lasts = np.zeros(hidden.size)
    for low, high in runs(hidden):
        if hidden[low]:
            lasts[low:high] = (high - low) * STEP_S
    margin = np.where(~hidden & unknown, np.nan, BRIEF_S - lasts)
    along, t = scene.track.ride.along_m[0], scene.track.ride.t_s

    def why(i: int, verdict: Verdict) -> Words:
        spot = say.place(float(along[i]), float(t[i]))
        if verdict == Verdict.UNKNOWN:
            return Words(
                f"unknown ground lies between the camera and the rider, {spot}",
                "give terrain that covers it; go if the rider is then hidden for "
                f"{BRIEF_S:.0f} s at most",
            )
        if verdict == Verdict.GO and not hidden.any():
            return Words("nothing stands between the camera and the rider", "nothing to change")
        what = _named(scene, str(hidden_by[i])) if hidden[i] else "something"
        reason = f"{what} hides the rider for {say.seconds(float(lasts[i]))}, {spot}"
        if verdict == Verdict.GO:
            return Words(f"{reason}: short enough to find him again", "nothing to change")
        low, high = _run_of(hidden, i)
        start, end = f"{along[low]:.0f} m", f"{along[high - 1]:.0f} m"
        cut = f"start the shot at {end}" if t[low] < 2.0 else f"end it at {start}"
        return Words(
            f"{reason}; {_loses(scene)}",
            f"film {start} to {end} from the other side or from higher up, or {cut}",
        )

    return (
        Margin(
            margin=margin,
            value=lasts,
            limit=np.full(lasts.size, BRIEF_S),
            thing=hidden_by,
            why=why,
            remarks=_gaps(scene, hidden_by, along),
            assumptions=(
                "crowns, woods and buildings are taken as solid; poles and wires hide nothing",
                "asked of the ride as given: a rider off his line may be hidden elsewhere",
            ),
            source=f"own choice: a follower bridges {BRIEF_S:.0f} s",
        ),
    )


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


def _named(scene: Scene, by: str) -> str:
    if by == "ground":
        return "the ground"
    return next(t.label for t in scene.site.obstacles.things if t.id == by)


def _run_of(hidden: NDArray[np.bool_], i: int) -> tuple[int, int]:
    return next((low, high) for low, high in runs(hidden) if low <= i < high)


def _gaps(scene: Scene, by: NDArray[np.object_], along: Array) -> tuple[Remark, ...]:
    """Every stretch on which the rider is hidden."""
    if np.isfinite(scene.enough_m):  # a search asks for no words
        return ()
    parts = [
        f"{say.seconds((high - low) * STEP_S)} from {along[low]:.0f} to {along[high - 1]:.0f} m "
        f"({', '.join(_named(scene, str(b)) for b in dict.fromkeys(by[low:high]))})"
        for low, high in runs(by != "")
        if by[low]
    ]
    return (Remark("rider hidden: " + ", ".join(parts)),) if parts else ()


CHECK = Check(
    id="view",
    family="picture",
    question="does the camera see the rider all the time?",
    unit="s",
    margins=margins,
    wind="none",
    rides="first",
    pointwise=False,
    binds="at-most",
    group="place",
)
