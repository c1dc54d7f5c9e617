"""Ask: a check's margins over the undisturbed ride and the others, reduced to places."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from shotplan.judging.verdicts import Floats, Part, joined
from shotplan.kernels.rides import by_place
from shotplan.model.arrays import Array
from shotplan.model.verdict import Verdict
from shotplan.scene.margin import Check, Margin
from shotplan.scene.scene import Scene


@dataclass(frozen=True)
class Asked:
    """One margin of a check: `samples (1,n)` of the undisturbed ride, whose `margin` it is;
    `placed (r,k)` of all rides by place, `whole (r,1)` over the shot."""

    check: Check
    margin: Margin
    samples: Part
    placed: Part
    whole: Part

    @cached_property
    def apart(self) -> bool:
        """Whether its caution has a threshold of its own: another than the limit's, or there is
        no limit where it is asked."""
        hard, soft = self.samples.least[0], self.samples.least_soft[0]
        here = np.isfinite(soft) & np.isfinite(self.margin.value)
        sign = -1.0 if self.check.binds == "at-least" else 1.0
        at = self.margin.value[here] + sign * soft[here]
        alike = np.isfinite(hard[here]) & np.isclose(at, self.margin.limit[here], atol=1e-6)
        return not (here.any() and alike.all())

    @cached_property
    def _limit(self) -> Part:
        """What its word rests on: the limit, and the caution where that is no other."""
        whole = self.whole
        if not self.apart:
            return whole
        return whole._replace(least_soft=np.full_like(whole.least_soft, np.inf))

    @cached_property
    def verdict(self) -> Verdict:
        """Over all rides, of its limit."""
        return self._limit.verdict

    @cached_property
    def own(self) -> Verdict:
        """Of the undisturbed ride alone."""
        return self._limit.at(slice(1)).verdict

    @cached_property
    def warns(self) -> bool:
        """Whether any ride breaks a caution of its own: where the limit itself is broken there
        is nothing to add."""
        if not self.apart or (self.whole.least[0, 0] < 0.0):
            return False
        return bool((self.whole.least_soft < 0.0).any())

    @cached_property
    def warned(self) -> int:
        """Row 0's sample where the caution is tightest."""
        return int(np.argmin(self.samples.least_soft[0]))

    @cached_property
    def sample(self) -> int | None:
        """Row 0's sample that decides: deepest break, else first unknown, else tightest."""
        hard, soft = self._of_limit
        if (hard < 0.0).any():
            return int(np.nanargmin(hard))
        if np.isnan(hard).any():
            return int(np.argmax(np.isnan(hard)))
        if (soft < 0.0).any():
            return int(np.nanargmin(soft))
        return None if np.isinf(hard).all() else int(np.argmin(hard))

    @cached_property
    def rank(self) -> Array:
        """`(n,)` smaller is worse: broken samples by depth, then unknown, then softly broken,
        then sound."""
        big = 1e6
        hard, soft = self._of_limit
        rank = np.where(soft < 0.0, np.maximum(soft, -big / 10) - big, np.minimum(hard, big / 10))
        rank = np.where(np.isnan(hard), -3 * big, rank)
        return np.where(hard < 0.0, np.maximum(hard, -big / 10) - 5 * big, rank)

    @cached_property
    def _of_limit(self) -> tuple[Floats, Floats]:
        """Row 0's margins `(n,)` to the limit, and to a caution that is no other."""
        hard, soft = self.samples.least[0], self.samples.least_soft[0]
        return hard, np.full_like(soft, np.inf) if self.apart else soft


def ask(check: Check, scene: Scene) -> list[Asked]:
    """Of the undisturbed ride, then of the others in blocks where they change the check."""
    first = scene.first
    metres = by_place.Metres(by_place.metres(first.track.ride.along_m[0]))
    asked = _asked(check, first, metres)
    for block in scene.others if check.rides == "all" else ():
        asked = [
            replace(
                one,
                placed=joined((one.placed, more.placed), axis=0),
                whole=joined((one.whole, more.whole), axis=0),
            )
            for one, more in zip(asked, _asked(check, block, metres), strict=True)
        ]
    return asked


def _asked(check: Check, scene: Scene, metres: by_place.Metres) -> list[Asked]:
    """Of some rides; by place, of which much is kept, in half the room."""
    found = []
    for margin in check.margins(scene):
        samples, placed = parts(check, margin, scene, metres)
        small = placed._replace(
            least=placed.least.astype(np.float32), least_soft=placed.least_soft.astype(np.float32)
        )
        found.append(Asked(check, margin, samples, small, samples.together()))
    return found


def parts(
    check: Check, margin: Margin, scene: Scene, places: by_place.Metres | by_place.Stretches
) -> tuple[Part, Part]:
    """A margin at every sample `(r,n)`, unknown where the flight rests on unknown ground, +inf
    where it is not filmed; and its least near every place `(r,k)`. Where the scene need not know
    how far, sound margins are not told apart by place."""
    ride, known = scene.track.ride, scene.track.known
    exact = scene.enough_m > 0.0

    def near(filmed: Array) -> Array:
        return by_place.least_by_place(filmed, ride.along_m, places, ride.filming, exact)

    hard = np.where(known, np.broadcast_to(margin.margin, known.shape), np.nan)
    hard = np.where(ride.filming, hard, np.inf)
    least = near(hard)
    soft, least_soft = np.broadcast_to(np.inf, known.shape), np.full(least.shape, np.inf)
    if margin.soft is not None:
        soft = np.where(ride.filming, margin.soft, np.inf)
        least_soft = near(soft)
    rule = margin.share, margin.family or check.family
    return Part(hard, soft, *rule), Part(least, least_soft, *rule)
