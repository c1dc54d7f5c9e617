"""What is kept of a check's margins (Finding), up to the whole Plan."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.judging.corridor import Corridor
from shotplan.judging.verdicts import Part
from shotplan.model.arrays import Array
from shotplan.model.shot import Outing
from shotplan.model.verdict import Family, Verdict
from shotplan.scene.landmarks import Landmark
from shotplan.scene.margin import Check, Drawing, GoIf, Remark
from shotplan.scene.scene import Scene
from shotplan.scene.timeline import Slot


class Spot(NamedTuple):
    """The place of a finding. Heights NaN unknown."""

    sample: int
    time_s: float
    ride_m: float
    xyz_m: tuple[float, float, float]
    height_above_launch_m: float
    height_m: float
    surface_m: float


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One per check (`of` it) and shot, `go` included. `value`, `limit`, `margin` at the worst
    place, None where unknown or nothing applies: those of ride number `ride`. Row 0's `margins`,
    `softs`, `values`, `limits`, `things (n,)`; `sample_codes (n,)` its verdict (as int) at each
    sample, `metre_codes (k,)` that of all rides at each metre; `least`, `least_soft (r,k)` each
    ride's least while the rider is within 5 m of metre k, all `parts` together."""

    of: Check
    family: Family
    verdict: Verdict
    value: float | None
    limit: float | None
    margin: float | None
    unit: str
    thing: str
    at: Spot | None
    reason: str
    advice: str
    source: str
    assumptions: tuple[str, ...]
    remarks: tuple[Remark, ...]
    rides_breaking: int
    share_bound: float | None
    margins: Array
    softs: Array
    values: Array
    limits: Array
    things: NDArray[np.object_]
    sample_codes: NDArray[np.int8]
    metre_codes: NDArray[np.int8]
    least: NDArray[np.float32]
    least_soft: NDArray[np.float32]
    ride: int = 0
    parts: tuple[Part, ...] = ()
    go_if: tuple[GoIf, ...] = ()
    drawings: tuple[Drawing, ...] = ()

    @property
    def check(self) -> str:
        """The id of the check."""
        return self.of.id


class Stretch(NamedTuple):
    """A run of the ride with one verdict; `binding` the check that decides, `margin` its least."""

    from_m: float
    to_m: float
    verdict: Verdict
    binding: str
    margin: float | None


@dataclass(frozen=True, kw_only=True)
class ShotPlan:
    """One shot judged. `scene` is row 0's; `sample_verdict (n,)` the merged verdict code of each
    sample (Verdict as int), `sample_binding (n,)` index into findings of what decides there
    (-1 where all is go); `combined` what to say of cautions of more than one kind ("" fewer);
    `corridor` where the aircraft is over all rides (None: only one was flown)."""

    scene: Scene
    verdict: Verdict
    findings: tuple[Finding, ...]
    stretches: tuple[Stretch, ...]
    sample_verdict: NDArray[np.int8]
    sample_binding: NDArray[np.int8]
    rides: int
    ride_from_m: float
    ride_to_m: float
    duration_s: float
    combined: str = ""
    corridor: Corridor | None = None

    def finding(self, check: str) -> Finding:
        """The finding of a check; KeyError where it did not run."""
        found = self.asked(check)
        if found is None:
            raise KeyError(check)
        return found

    def asked(self, check: str) -> Finding | None:
        """The finding of a check; None where it did not run."""
        return next((f for f in self.findings if f.check == check), None)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """The whole answer; `timeline` the day in order; `marks` what can be pointed at along the
    ride."""

    outing: Outing
    shots: tuple[ShotPlan, ...]
    verdict: Verdict
    version: str
    cautions: tuple[str, ...] = field(default=())
    timeline: tuple[Slot, ...] = ()
    marks: tuple[Landmark, ...] = ()
