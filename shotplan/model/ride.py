"""The ride: where the rider is at each moment, as ridden and as the aircraft believes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from shotplan.model.arrays import Array, Bools, put

STEP_S = 0.1
RIDER_BRAKES_M_S2 = 3.4  # dry, 0.35 g: FHWA-HRT-04-103 (typical bicycle; common practice)
HANDS_ON_S = 5.0  # once he stands, until the control is in his hand: own assumption


@dataclass(frozen=True, kw_only=True)
class Ride:
    """Sampled every 0.1 s; r rides (row 0 undisturbed), n samples.

    `t_s (n,)` counts from the first filmed sample (negative in the lead-in); `xyz_m (r,n,3)` the
    ground under the rider (z at the last known elevation where the ground is not known);
    `known_xyz_m` as the aircraft believes; `speed_m_s`, `course_rad`, `along_m (r,n)`;
    `filming (r,n)` the shot's part; `ground_known (r,n)`.
    """

    t_s: Array
    xyz_m: Array
    known_xyz_m: Array
    speed_m_s: Array
    course_rad: Array
    along_m: Array
    filming: Bools
    ground_known: Bools

    def __post_init__(self) -> None:
        """Check shapes; freeze the arrays."""
        (n,) = put(self, "t_s", (None,))
        r = self.xyz_m.shape[0]
        for name in ("xyz_m", "known_xyz_m"):
            put(self, name, (r, n, 3))
        for name in ("speed_m_s", "course_rad", "along_m", "filming", "ground_known"):
            put(self, name, (r, n))

    def samples(self, part: slice) -> Ride:
        """The same rides over a slice of the samples (views)."""
        return replace(
            self,
            t_s=self.t_s[part],
            xyz_m=self.xyz_m[:, part],
            known_xyz_m=self.known_xyz_m[:, part],
            speed_m_s=self.speed_m_s[:, part],
            course_rad=self.course_rad[:, part],
            along_m=self.along_m[:, part],
            filming=self.filming[:, part],
            ground_known=self.ground_known[:, part],
        )

    def rows(self, part: slice) -> Ride:
        """Some of the rides (views)."""
        return replace(
            self,
            xyz_m=self.xyz_m[part],
            known_xyz_m=self.known_xyz_m[part],
            speed_m_s=self.speed_m_s[part],
            course_rad=self.course_rad[part],
            along_m=self.along_m[part],
            filming=self.filming[part],
            ground_known=self.ground_known[part],
        )

    def sample_at(self, along_m: Array, row: int = 0) -> Array:
        """The sample (fractional) at which a ride first is at `along_m (k,)` of what it films; a
        place where he stands is reached as he comes to it."""
        along = self.along_m[row, self.filming[row]]
        rising = np.concatenate([[True], np.diff(along) > 1e-9])
        start = int(np.argmax(self.filming[row]))
        return np.asarray(np.interp(along_m, along[rising], start + np.flatnonzero(rising)))

    def when_s(self, along_m: Array) -> Array:
        """When the undisturbed ride first is there, on the clock of `t_s`."""
        return np.asarray(np.interp(self.sample_at(along_m), np.arange(len(self.t_s)), self.t_s))

    @property
    def first(self) -> int:
        """Index of the first filmed sample of row 0."""
        return int(np.argmax(self.filming[0]))

    @property
    def filmed(self) -> slice:
        """From the first to the last sample that any ride films."""
        on = np.flatnonzero(self.filming.any(axis=0))
        return slice(int(on[0]), int(on[-1]) + 1)

    @property
    def rides(self) -> int:
        """How many rides r."""
        return int(self.xyz_m.shape[0])
