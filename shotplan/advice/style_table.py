"""Which style is safe on which stretch: what a search found, and the route it proposes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.judging.judged import ShotPlan
from shotplan.model.arrays import Array
from shotplan.model.flight import Style
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing


class Candidate(NamedTuple):
    """A style with its numbers. `label` tells all of it in few words, `group` style and side."""

    style: Style
    label: str
    group: str


class Easier(NamedTuple):
    """A version to fly first. `margin_m` the least of its margins to what it may hit, of the
    undisturbed ride; `thing` what is nearest; `verdict` that of the undisturbed ride."""

    style: Style
    label: str
    margin_m: float
    thing: str
    verdict: Verdict


class Leg(NamedTuple):
    """A recommended shot: its candidate (index), its part of the ride, what flying it with all
    rides gave, and two easier versions (fewer where none was found), easiest first. `margin_m`,
    `thing` as in `Easier`. `cost` of its picture, 0 the best there can be."""

    candidate: int
    from_m: float
    to_m: float
    plan: ShotPlan
    margin_m: float
    thing: str
    easier: tuple[Easier, ...]
    cost: float


class Common(NamedTuple):
    """A check that refuses or does not know whatever the style: its id, word and reason."""

    check: str
    verdict: Verdict
    reason: str
    advice: str


@dataclass(frozen=True, kw_only=True)
class StyleTable:
    """Candidates c over stretches s of the ride.

    `edges_m`, `edges_s (s+1,)` of the stretches, along the ride and on the undisturbed rider's
    clock. `verdict (c,s)` codes by `rides` common rides: broken by the undisturbed one or by more
    than the allowed share of them, unknown, broken by any, none. `margin_m (c,s)` least of the
    undisturbed ride's margins in metres to what may be hit (NaN unknown; not less than
    `enough_m` where it says that). `binding`, `thing (c,s)` the check that decides and what is
    nearest. `share (c,s)` of the rides that break anything there. `cost (c,s)` of the picture.
    `legs` the proposed route in order, `gaps` parts of the ride where nothing passes. `broken`
    of `flown` rides break anything along the route, which proves a share under `bound`;
    `word` what that makes of the route (what decided it is in the legs).
    """

    outing: Outing
    candidates: tuple[Candidate, ...]
    edges_m: Array
    edges_s: Array
    verdict: NDArray[np.int8]
    margin_m: Array
    enough_m: float
    binding: NDArray[np.object_]
    thing: NDArray[np.object_]
    share: Array
    cost: Array
    rides: int
    legs: tuple[Leg, ...]
    gaps: tuple[tuple[float, float], ...]
    common: tuple[Common, ...]
    broken: int
    flown: int
    bound: float
    word: Verdict
    notes: tuple[str, ...] = ()

    def groups(self) -> tuple[str, ...]:
        """Style and side, each once, in the order of the candidates."""
        return tuple(dict.fromkeys(c.group for c in self.candidates))

    def best_of(self, group: str) -> NDArray[np.intp]:
        """`(s,)` the group's best candidate on each stretch: by word, then by picture."""
        own = np.array([i for i, c in enumerate(self.candidates) if c.group == group])
        rank = self.verdict[own] * 1e6 + np.minimum(self.cost[own], 1e5)
        return np.asarray(own[np.argmin(rank, axis=0)])

    def choice(self) -> NDArray[np.intp]:
        """`(s,)` the candidate of the route on each stretch; -1 in a gap."""
        middle = 0.5 * (self.edges_m[1:] + self.edges_m[:-1])
        found = np.full(len(middle), -1)
        for leg in self.legs:
            found[(middle >= leg.from_m) & (middle <= leg.to_m)] = leg.candidate
        return found
