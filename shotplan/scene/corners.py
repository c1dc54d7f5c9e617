"""Of a building or a row of things what one points at: its first and last corner that is seen from
abeam, both its ends."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np

from shotplan.kernels.solids import passing
from shotplan.model.arrays import Array

Part = Literal[
    "", "corner", "near corner", "far corner", "end", "near end", "far end", "mast", "near edge",
    "far edge",
]  # fmt: skip

REACH_M = 40.0  # farther off nobody judges what is abeam
BEHIND_M = 1.0  # corners of a building so near in line: the farther one is behind the nearer


class Mark(NamedTuple):
    """A landmark before its thing is known: on `leg` at `share`, `right_m` off."""

    leg: int
    share: float
    right_m: float
    part: Part


class Seen(NamedTuple):
    """A pass of one of several points of a thing, from `foot_m (2,)` on the ride."""

    leg: int
    share: float
    right_m: float
    which: int
    foot_m: Array


def corners(ring_m: Array, path: Array) -> list[Mark]:
    """First and last of the corners of a building that are seen from abeam, each time it is
    passed."""
    ring = np.concatenate([ring_m, ring_m[:1]])
    seen: list[Seen] = []
    for corner, leg, share, right in zip(*passing.abeam(path, ring_m, REACH_M), strict=True):
        foot = path[leg] + share * (path[leg + 1] - path[leg])
        # The line of sight ends just short of the corner, and must not meet a wall before that.
        short = ring_m[corner] + 0.01 * (foot - ring_m[corner])
        if not len(passing.crossings(np.stack([foot, short]), ring, shallow=0.0)[0]):
            seen.append(Seen(int(leg), float(share), float(right), int(corner), foot))

    def behind(s: Seen, o: Seen) -> bool:
        return abs(o.right_m) < abs(s.right_m) and np.hypot(*(o.foot_m - s.foot_m)) <= BEHIND_M

    front = [s for s in seen if not any(behind(s, other) for other in seen)]
    return _first_and_last(front, ("corner", "near corner", "far corner"))


def ends_of(row_m: Array, path: Array) -> list[Mark]:
    """Both ends of a row, each time it is passed."""
    passes = zip(*passing.abeam(path, row_m[[0, -1]], REACH_M), strict=True)
    seen = [
        Seen(int(leg), float(share), float(right), int(end), path[leg])
        for end, leg, share, right in passes
    ]
    return _first_and_last(seen, ("end", "near end", "far end"))


def _first_and_last(seen: Sequence[Seen], words: tuple[Part, Part, Part]) -> list[Mark]:
    """Of passes the first and the last in the ride's order, until one of the points comes again;
    `words` for one alone, the first, the last."""
    groups: list[list[Seen]] = []
    for one in sorted(seen, key=lambda s: (s.leg, s.share, abs(s.right_m), s.which)):
        if not groups or one.which in {other.which for other in groups[-1]}:
            groups.append([])
        groups[-1].append(one)
    alone, first, last = words
    marks: list[Mark] = []
    for group in groups:
        ends = [(group[0], alone)] if len(group) == 1 else [(group[0], first), (group[-1], last)]
        marks += [Mark(s.leg, s.share, s.right_m, part) for s, part in ends]
    return marks
