"""The search for what mends one shot: versions of it asked check by check, what changes least
first.

Every check can only take metres away, and less of the ride costs more: so whichever version is the
cheapest when all were asked is the nearest that works.
"""

from __future__ import annotations

import heapq
import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import get_args

import numpy as np

from shotplan.advice.mending import words
from shotplan.advice.mending.asked import ENOUGH_M, codes, over_rides, stacked
from shotplan.advice.mending.versions import Part, Version, keys, whole
from shotplan.checks import CHECKS
from shotplan.flying import undisturbed, undisturbed_alike, with_others
from shotplan.model.arrays import Bools
from shotplan.model.change import Change
from shotplan.model.nearby import Near, Reach
from shotplan.model.shot import LinkLost, Shot
from shotplan.model.verdict import Verdict
from shotplan.outing import Outing
from shotplan.scene.margin import Check
from shotplan.scene.scene import Scene

LINKS: tuple[LinkLost, ...] = get_args(LinkLost)
SUBSTEP_S = 0.05
EXACT_M = 0.1  # a margin is told exactly for so much more than what is taken off it
BLOCK = 24  # versions flown side by side
AGAIN = 2  # a version whose part was refused is cut once more so many times
SIGMAS = 0.5  # what is measured in metres keeps so many errors of place more than its limit
OF_ALL = tuple(c for c in CHECKS if c.rides == "all")
OF_ONE = tuple(c for c in CHECKS if c.rides == "first")


@dataclass
class Search:
    """Of one shot that begins at `start`: `most` the worst word that will do; `refused` how often
    a check left nothing of a version (those that refuse the shot come first)."""

    outing: Outing
    shot: Shot
    start: datetime
    most: Verdict
    reach: Reach
    refused: Counter[str]
    found: list[tuple[float, Change]] = field(default_factory=list)
    asks: int = 0
    proofs: int = 0
    link: LinkLost = "home"
    by_link: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        """Left alone it does what was asked for, unless something else is better."""
        self.link = self.shot.link_lost

    def run(self) -> tuple[Change, ...]:
        """The changes that work, the best first."""
        heap: list[tuple[float, int, Version]] = []
        near = iter(self._blocks())
        block = next(near, [])
        number = 0
        while (heap or block) and len(self.found) < self.reach.most and self._may_go_on():
            if block and (not heap or block[0].cost <= heap[0][0]):
                fresh, block = self._flown(block), next(near, [])
            else:
                version = heapq.heappop(heap)[2]
                fresh = [version] if self._further(version) else []
            for version in fresh:
                part = version.part(self.shot, self.outing.ride, self.reach)
                if part is not None and not self._known(version, part):
                    cost = version.cost(part, self.shot, self.reach)
                    heapq.heappush(heap, (cost, number, version))
                    number += 1
        return tuple(change for _, change in sorted(self.found, key=lambda one: one[0]))

    def stuck(self) -> Check | None:
        """A check that refuses every metre as far as is tried in every direction, so that nothing
        between helps. What it is to do when left alone is chosen by what was asked for."""
        ends = self._fly([n for n in self._near() if n.end])
        own = ends[0]
        for check in OF_ONE:
            if not self.refused[check.id]:
                continue
            self._leave(check, own)
            for version in ends:
                if (codes(check, _left(version.scene, self.link))[0] <= self.most).any():
                    break
            else:
                return check
        return None

    def _leave(self, check: Check, version: Version) -> None:
        """What it does when left alone, where another is better for a check."""
        good = int((codes(check, _left(version.scene, self.link))[0] <= self.most).sum())
        for link in LINKS if good < len(version.good) else ():
            left = _left(version.scene, link)
            other = int((codes(check, left)[0] <= self.most).sum())
            if other > good:
                self.link, good = link, other
                self.by_link.add(check.id)

    def _may_go_on(self) -> bool:
        """As long as nothing is found, and half as long for more."""
        most = self.reach.tries / (1.0 + bool(self.found))
        return self.asks < most and self.proofs < self.reach.proofs

    def _near(self) -> list[Near]:
        own = Near(self.shot.style, {}, 0.0, end=True)
        return [own, *self.shot.style.near(self.reach)]

    def _blocks(self) -> Iterator[list[Near]]:
        near = self._near()
        return (near[i : i + BLOCK] for i in range(0, len(near), BLOCK))

    def _fly(self, near: list[Near]) -> list[Version]:
        shots = [replace(self.shot, style=one.style) for one in near]
        scenes = [
            replace(scene, start=self.start, told=False, enough_m=ENOUGH_M)
            for scene in undisturbed_alike(self.outing, shots, SUBSTEP_S)
        ]
        return [
            Version(near=one, scene=scene, good=whole(scene), link=self.shot.link_lost)
            for one, scene in zip(near, scenes, strict=True)
        ]

    def _flown(self, near: list[Near]) -> list[Version]:
        """Flown, and all of them asked at once what every ride is asked."""
        versions = self._fly(near)
        for follows in (True, False):
            alike = [v for v in versions if v.scene.wish and v.scene.wish.follows_rider is follows]
            if not alike:
                continue
            room = self._room_m(follows)
            rows = stacked([v.scene for v in alike], room + EXACT_M)
            for check in OF_ALL:
                bad = codes(check, rows, room) > self.most
                for version, own in zip(alike, bad, strict=True):
                    self._take(check, version, own)
        return versions

    def _room_m(self, follows: bool) -> float:
        craft = self.outing.aircraft
        by_sight = follows and craft.follows_by == "sight"
        sigma = craft.sight_sigma_m if by_sight else craft.position_sigma_m
        return SIGMAS * sigma + self.reach.spare_m

    def _take(self, check: Check, version: Version, bad: Bools) -> bool:
        """Without the metres that are bad; whether enough is left."""
        had = version.good.any()
        version.good = version.good & ~bad
        left = version.part(self.shot, self.outing.ride, self.reach) is not None
        self.refused[check.id] += int(had and not left)
        return left

    def _further(self, version: Version) -> bool:
        """Asks the next check, or proves it; whether there is something left to ask."""
        waiting = [c for c in self._order() if c.id not in version.asked]
        if waiting:
            version.asked.add(waiting[0].id)
            return self._ask(waiting[0], version)
        return self._tried(version)

    def _order(self) -> list[Check]:
        return sorted(OF_ONE, key=lambda c: (-self.refused[c.id], c.nature.searched == "never"))

    def _ask(self, check: Check, version: Version) -> bool:
        """Whether a check leaves enough of a version."""
        self.asks += 1
        bad = codes(check, version.scene)[0] > self.most
        if check.id in self.by_link and (bad & version.good).any():
            other = codes(check, _left(version.scene, self.link))[0] > self.most
            if self._price(version, other) + self.reach.link_cost < self._price(version, bad):
                version.link, bad = self.link, other
        return self._take(check, version, bad)

    def _price(self, version: Version, bad: Bools) -> float:
        """What a version would cost without some metres."""
        left = replace(version, good=version.good & ~bad)
        part = left.part(self.shot, self.outing.ride, self.reach)
        return math.inf if part is None else left.cost(part, self.shot, self.reach)

    def _known(self, version: Version, part: Part) -> bool:
        """Whether something that changes no more keys works already, as well as this may."""
        new = set(keys(self.shot, version.made(part, self.shot, self.outing.ride)))
        return any(set(c.keys) <= new and c.verdict == Verdict.GO for _, c in self.found)

    def _tried(self, version: Version) -> bool:
        """Flown by itself over its part and proved; where that fails, whether it may be tried once
        more over what is left."""
        part = version.part(self.shot, self.outing.ride, self.reach)
        assert part is not None
        shot = version.made(part, self.shot, self.outing.ride)
        changed = keys(self.shot, shot)
        if not changed or any(set(c.keys) <= set(changed) for _, c in self.found):
            return False
        self.proofs += 1
        spread = self.outing.disturbance
        seed = spread.seed + self.proofs
        outing = replace(self.outing, disturbance=replace(spread, seed=seed))
        verdict, bad = self._proof(outing, shot)
        if bad is not None:
            version.failed += 1
            version.without(bad, shot.from_m)
            return version.failed <= AGAIN and bool(bad.any())
        text = words.text(self.shot, shot, verdict)
        change = Change(keys=changed, verdict=verdict, rides=spread.rides, seed=seed, text=text)
        cost = version.cost(part, self.shot, self.reach)
        self.found.append((cost + self.reach.caution_cost * (verdict > Verdict.GO), change))
        return False

    def _proof(self, outing: Outing, shot: Shot) -> tuple[Verdict, Bools | None]:
        """The word; and where it will not do, the metres where it is refused."""
        once = replace(undisturbed(outing, shot), start=self.start, told=False)
        verdict, many = Verdict.GO, None
        for check in (*self._order(), *OF_ALL):
            scene, spare = once, 0.0
            if check.rides == "all":
                if many is None:
                    spread = with_others(outing, once, self.start, outing.disturbance.rides)
                    many = replace(spread, told=False, spare_m=self.reach.spare_m + EXACT_M)
                scene, spare = many, self.reach.spare_m
            word, placed = over_rides(check, scene, spare)
            if word > self.most:
                self.refused[check.id] += 1
                return word, np.asarray(placed > self.most)
            verdict = max(verdict, word)
        return verdict, None


def _left(scene: Scene, link: LinkLost) -> Scene:
    """The same flight that does another thing when left alone."""
    return replace(scene, shot=replace(scene.shot, link_lost=link))
