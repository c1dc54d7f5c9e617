"""What each watcher sees of the undisturbed flight, sample by sample."""

from __future__ import annotations

from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.model.arrays import Array, Bools
from shotplan.output.words import plain
from shotplan.scene.eyesight import counted, range_m, view
from shotplan.scene.scene import Scene
from shotplan.scene.watching import Watcher, watchers


class Sight(IntEnum):
    """How a watcher stands to the aircraft at a moment."""

    SEEN = 0
    UNKNOWN = 1
    FAR = 2
    HIDDEN = 3


class Watched(NamedTuple):
    """One watcher and row 0: `counts (n,)` whether the pack counts this sight there; `eye_m
    (n, 3)`; `sight (n,)` a `Sight`; `slant_m (n,)` to the aircraft, `free_m (n,)` how far the line
    to it is free; `cut_by (n,)` what cuts it, in words ("" nothing)."""

    who: str
    counts: Bools
    eye_m: Array
    sight: NDArray[np.int8]
    slant_m: Array
    free_m: Array
    cut_by: NDArray[np.object_]

    def says(self, i: int) -> str:
        """`Ilse sees it, 81 m away`."""
        away = f"{self.slant_m[i]:.0f} m"
        match self.sight[i]:
            case Sight.SEEN:
                return f"{self.who} sees it, {away} away"
            case Sight.HIDDEN:
                return f"{self.who} does not see it: {away} away, hidden by {self.cut_by[i]}"
            case Sight.FAR:
                return f"{self.who} is {away} away: too small there to steer by eye"
            case _:
                return f"not known whether {self.who} sees it"


def watched(scene: Scene) -> tuple[Watched, ...]:
    """Everybody who has it in view; those first whose sight counts somewhere."""
    counts = [(person, where[0]) for person, where in counted(scene)]
    found = []
    for watcher in watchers(scene):
        where = [w for person, w in counts if person == watcher.person]
        never = np.zeros(len(watcher.eye_m), dtype=bool)
        found.append(_watched(scene, watcher, where[0] if where else never))
    return tuple(sorted(found, key=lambda w: not w.counts.any()))


def says(all_watched: tuple[Watched, ...], i: int) -> str:
    """What everybody sees at a sample, those whose sight counts first."""
    deciding = [w.says(i) for w in all_watched if w.counts[i]]
    others = [w.says(i) for w in all_watched if not w.counts[i]]
    text = "; ".join(deciding) or "nobody watches whose sight counts"
    return f"{text}; also watching: {'; '.join(others)}" if others else text


def _watched(scene: Scene, watcher: Watcher, counts: Bools) -> Watched:
    known = np.asarray(np.isfinite(watcher.eye_m).all(axis=1))
    eye = np.where(known[:, None], watcher.eye_m, scene.track.xyz_m[0])
    seen = view(scene, eye[None])
    slant, cut = seen.slant_m[0], seen.cut_m[0]
    far, visibility = range_m(scene)
    sight = np.full(len(eye), Sight.SEEN, dtype=np.int8)
    if visibility is None and scene.rules.sight.distance_limit:
        sight[:] = Sight.UNKNOWN
    sight[slant > far] = Sight.FAR
    sight[np.logical_and(seen.unknown[0], sight == Sight.SEEN)] = Sight.UNKNOWN
    sight[cut < slant] = Sight.HIDDEN
    sight[~known] = Sight.UNKNOWN
    labels = {t.id: plain(t.label) for t in scene.site.obstacles.things}
    cut_by = [labels.get(c, "the ground") if c else "" for c in seen.cut_by]
    return Watched(
        plain(watcher.person.name),
        counts,
        watcher.eye_m,
        sight,
        np.where(known, slant, np.nan),
        np.minimum(cut, slant),
        np.array(cut_by, dtype=object),
    )
