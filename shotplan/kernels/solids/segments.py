"""The least of a distance along straight segments, found by bounds that cannot miss.

The squared distance to any set is, less the square of the way gone, a concave function of the way
gone (it is the least of `|x - s|² - |x|²` over the set, each of them linear). So on a piece of
length l with distances p and q at its ends,

    d² >= (1 - s) p² + s q² - s (1 - s) l²        at the share s of the piece               (1)

whose least value is the height of the triangle with the sides p, q, l. A path along a wall or
over level ground meets it closely after a few halvings, where "no faster than the way moved" alone
would need one evaluation per millimetre. Inside a set (negative) only the latter holds:
d >= (p + q - l) / 2.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.intp]

FEW = 128  # pieces for which two rounds are asked at once
INSIDE_TOLERANCE_M = 0.05  # how deep inside a set it is, nobody needs to the millimetre


def least_along(
    distance: Callable[[Array], Array],
    start_m: Array,
    end_m: Array,
    tolerance_m: float = 0.001,
    enough_m: Array | float = np.inf,
) -> tuple[Array, Array]:
    """Least of `distance(points (k, 3)) -> (k,)` on segments `start_m (n, 3)` to `end_m (n, 3)`.

    `distance` is one to a fixed set: signed or not, less a constant or not, +inf beyond some reach
    or not (+inf means "nothing in reach": farther than any finite value it gives). Halves are
    dropped once their bound cannot undercut the best found by more than `tolerance_m` (by
    `INSIDE_TOLERANCE_M` once that is negative). Exactly 0 at both ends of a half is taken for the
    inside of a set without depth. Returns the least `(n,)` and its fraction `(n,)`, of equals of
    one round the nearest to the start. A segment without length costs one evaluation. From
    `enough_m` on (of all or each of the segments) any value that is at least that will do. No NaN
    in, no NaN out.
    """
    way_m = end_m - start_m
    length = np.sqrt((way_m * way_m).sum(axis=1))
    least, share = np.asarray(distance(start_m), dtype=np.float64).copy(), np.zeros(len(start_m))
    enough = np.broadcast_to(np.asarray(enough_m, dtype=np.float64), length.shape)
    which = np.flatnonzero((length > 0.0) & ((least - length < enough) | np.isinf(least)))
    if not len(which):
        return least, share

    def at(segment: Index, s: Array) -> Array:  # all shares (k, m) in one question
        places = start_m[segment] + s[..., None] * way_m[segment]
        return np.asarray(distance(places.reshape(-1, 3))).reshape(s.shape)

    one = np.ones(len(which))
    first, (last, half) = least[which], at(which, np.stack([one, 0.5 * one]))
    _improve(least, share, which, last, one)
    pieces = _Pieces(which, 0.0 * one, one, first, last, half[None])
    while len(pieces.segment):
        if not len(pieces.ahead):
            pieces = pieces._replace(ahead=at(pieces.segment, pieces.middles()))
        _improve(least, share, pieces.segment, pieces.ahead[0], pieces.middle)
        pieces = pieces.halved()
        metres = length[pieces.segment] * (pieces.high - pieces.low)
        best = least[pieces.segment]
        spare = np.where(best < 0.0, max(tolerance_m, INSIDE_TOLERANCE_M), tolerance_m)
        wanted = np.minimum(best - spare, enough[pieces.segment])
        pieces = pieces.where(_bound(pieces.first, pieces.last, metres) < wanted)
    return least, share


class _Pieces(NamedTuple):
    """Shares `low`..`high (m,)` of a segment, distances at both ends; `ahead`, as far as asked,
    those in the middle, of the lower half and of the upper half `(0 or 1 or 3, m)`."""

    segment: Index
    low: Array
    high: Array
    first: Array
    last: Array
    ahead: Array

    @property
    def middle(self) -> Array:
        return np.asarray(0.5 * (self.low + self.high))

    def middles(self) -> Array:
        """The shares to ask next: of few pieces two rounds at once, since one question more costs
        more than some places that turn out not to matter."""
        middle = self.middle
        halves = [0.5 * (self.low + middle), 0.5 * (middle + self.high)]
        return np.stack([middle, *(halves if 1 < len(middle) <= FEW else ())])

    def halved(self) -> _Pieces:
        middle, value, lower, upper = self.middle, *self.ahead[:1], self.ahead[1:2], self.ahead[2:]
        return _Pieces(
            np.tile(self.segment, 2),
            np.concatenate([self.low, middle]),
            np.concatenate([middle, self.high]),
            np.concatenate([self.first, value]),
            np.concatenate([value, self.last]),
            np.concatenate([lower, upper], axis=1),
        )

    def where(self, keep: NDArray[np.bool_]) -> _Pieces:
        return _Pieces(
            self.segment[keep],
            self.low[keep],
            self.high[keep],
            self.first[keep],
            self.last[keep],
            self.ahead[:, keep],
        )


def _improve(least: Array, share: Array, segment: Index, value: Array, at: Array) -> None:
    """Take over what is less than before; of equal values the one nearest the start."""
    order = np.lexsort((at, value, segment))
    segment, value, at = segment[order], value[order], at[order]
    best = np.concatenate([[True], segment[1:] != segment[:-1]]) & (value < least[segment])
    least[segment[best]], share[segment[best]] = value[best], at[best]


def _bound(first: Array, last: Array, length: Array) -> Array:
    """No distance on pieces with these at their ends is less (+inf: nothing in reach)."""
    near, far = np.minimum(first, last), np.maximum(first, last)
    reached = np.isfinite(near)
    p = np.where(reached, near, 0.0)
    q = np.where(np.isfinite(far), far, p)
    squared = np.maximum(length * length, np.finfo(np.float64).tiny)
    s = np.clip((squared + p * p - q * q) / (2.0 * squared), 0.0, 1.0)
    least2 = (1.0 - s) * p * p + s * q * q - s * (1.0 - s) * squared
    outside = np.sqrt(np.maximum(least2, 0.0))
    inside = 0.5 * (p + q - length)
    bound = np.where((p >= 0.0) & (least2 > 0.0), outside, inside)
    bound = np.where((p == 0.0) & (q == 0.0), 0.0, bound)
    return np.where(reached, bound, np.inf)
