"""What is said of a margin: the branches that every check shares."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.rides import thinning
from shotplan.model import say
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import UNKNOWN_GROUND, Margin, Why, Words
from shotplan.scene.scene import Scene


def told(
    scene: Scene,
    reason: Callable[[int, str], str],
    advice: Callable[[int], str],
    *,
    unknown: Callable[[int, str], Words] | Words,
    nothing: str = "",
    at: NDArray[np.intp] | None = None,
) -> Why:
    """The words of a margin, by sample: `reason` is told the spot too, `unknown` the same or words
    with `{spot}` in them; `advice` is given where the margin (or a soft one) is broken, `nothing`
    is said where no sample decides. `at`: of row 0, where only some of its samples were asked."""

    def why(i: int, verdict: Verdict) -> Words:
        if i < 0:
            return Words(nothing)
        spot = place(scene, i if at is None else int(at[i]))
        if verdict == Verdict.UNKNOWN:
            words = unknown if isinstance(unknown, Words) else unknown(i, spot)
            return words._replace(reason=words.reason.replace("{spot}", spot))
        said = reason(i, spot)
        return Words(said) if verdict == Verdict.GO else Words(said, advice(i))

    return why


def spread(some: Margin, at: NDArray[np.intp], n: int) -> Margin:
    """A margin of the samples `at (m,)` of row 0 over all n of them, by the worse neighbour."""
    pick = thinning.worse_beside(at, some.margin, n)
    return replace(
        some,
        margin=thinning.spread(at, some.margin, pick),
        value=some.value[pick],
        limit=some.limit[pick],
        thing=some.thing[pick],
        why=lambda i, verdict: some.why(int(pick[i]) if i >= 0 else -1, verdict),
    )


def always(words: Words) -> Why:
    """The same of every sample."""
    return lambda _i, _verdict: words


def place(scene: Scene, i: int) -> str:
    """Where and when sample i of row 0 is."""
    ride = scene.track.ride
    return say.place(float(ride.along_m[0, i]), float(ride.t_s[i]))


def no_ground(what: str, keeps: str) -> Words:
    """The ground is not known: of `what`, and what it would have to keep."""
    return Words(what, f"give terrain that covers it; go if {keeps}")


def label(scene: Scene, thing: str) -> str:
    """A margin's `thing` as a person calls it."""
    labels = {t.id: t.label for t in scene.site.obstacles.things}
    return {**labels, "ground": "the ground", UNKNOWN_GROUND: UNKNOWN_GROUND}[thing]
