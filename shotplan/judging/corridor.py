"""The corridor: where the aircraft is over all rides, by place."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shotplan.kernels.rides import by_place
from shotplan.model.arrays import Array
from shotplan.model.flight import Track

SHARES = (0.5, 0.95, 0.99)
STEP_M = 2.0


class Corridor(NamedTuple):
    """Bands that hold `SHARES` of the rides while the rider is at a place of the ride, each with
    as many rides beyond it on one side as on the other.

    `along_m (k,)` of the ride; `middle_m (k,3)` where the undisturbed aircraft is then; `abeam
    (k,2)` the unit vector across its way, to the right; `across_m`, `up_m (3,2,k)` least and
    greatest offset of each band from the middle.
    """

    along_m: Array
    middle_m: Array
    abeam: Array
    across_m: Array
    up_m: Array

    def outline(self, band: int) -> Array:
        """`(2k, 2)` the band seen from above, as a ring."""
        left, right = (
            self.middle_m[:, :2] + side[:, None] * self.abeam for side in self.across_m[band]
        )
        return np.concatenate([left, right[::-1]])


def corridor(track: Track, *, by_clock: bool) -> Corridor | None:
    """The bands of a track of many rides; None of one ride. `by_clock` for a flight that does not
    follow the rider: its rides are together at a moment, not at a place of his."""
    rides = track.ride.rides
    if rides == 1:
        return None
    along = track.ride.along_m[0, track.ride.filming[0]]
    metres = by_place.metres(along)
    at = np.unique(np.append(metres[:: int(STEP_M)], [along[0], along[-1]]).clip(*along[[0, -1]]))
    there = np.stack([_places(track, r, at, by_clock=by_clock) for r in range(rides)])
    middle = there[0]
    way = np.gradient(middle[:, :2], axis=0) if len(at) > 1 else np.zeros((len(at), 2))
    length = np.hypot(way[:, 0], way[:, 1])
    course = np.interp(at, along, np.unwrap(track.ride.course_rad[0, : len(along)]))
    ahead = np.stack([np.sin(course), np.cos(course)], axis=-1)
    still = length < 1e-3
    ahead[~still] = way[~still] / length[~still, None]
    abeam = np.stack([ahead[:, 1], -ahead[:, 0]], axis=-1)
    offset = there - middle
    across = (offset[..., :2] * abeam).sum(axis=-1)
    ends = np.array([[0.5 - 0.5 * s, 0.5 + 0.5 * s] for s in SHARES])
    across_m, up_m = (np.quantile(off, ends, axis=0) for off in (across, offset[..., 2]))
    return Corridor(at, middle, abeam, across_m, up_m)


def _places(track: Track, ride: int, at_m: Array, *, by_clock: bool) -> Array:
    """`(k, 3)` where the aircraft of one ride is when its rider (by the clock: the undisturbed
    one) is at `at_m (k,)`."""
    at = track.ride.sample_at(at_m, 0 if by_clock else ride)
    samples = np.arange(track.xyz_m.shape[1])
    return np.stack([np.interp(at, samples, axis) for axis in track.xyz_m[ride].T], axis=-1)
