"""What a check returns (Margin) and what is kept of it (Finding), up to the whole Plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.model.arrays import Array
from shotplan.model.corridor import Corridor
from shotplan.model.landmarks import Landmark
from shotplan.model.scene import Scene
from shotplan.model.shot import Outing
from shotplan.model.timeline import Slot
from shotplan.model.verdict import Family, Verdict

UNKNOWN_GROUND = "unknown ground"  # a `thing`: not known whether anything is in the way
Group = Literal["place", "wind and light", "people", "crew", "aircraft"]


class Remark(NamedTuple):
    """Something to say beside the number; `caution` makes the finding at least that, and then
    `advice` says what would lift it."""

    text: str
    caution: bool = False
    source: str = ""
    advice: str = ""


class GoIf(NamedTuple):
    """The limit an input must keep for the finding to be go: `key` in site.toml, for example
    `weather.gust_m_s`, stays at or under (`at-most`) or at or over (`at-least`) `value`; `given`
    are other keys that are missing too and the values they are then taken at."""

    key: str
    bound: Literal["at-most", "at-least"]
    value: float
    unit: str
    given: tuple[tuple[str, float | str], ...] = ()

    @property
    def text(self) -> str:
        """`go if weather.gust_m_s stays at or under 8.1 m/s`."""
        side = "at or under" if self.bound == "at-most" else "at or over"
        also = "".join(f", with {key} = {value}" for key, value in self.given)
        return f"go if {self.key} stays {side} {self.value:g} {self.unit}{also}"


class Drawing(NamedTuple):
    """Something a check wants on the map: `outline (k, 2)` in the frame, closed if `filled`."""

    what: str
    outline: Array
    filled: bool = True


class Words(NamedTuple):
    """One plain sentence of reason, one of advice that names a number, and the limits that what
    is missing would have to keep."""

    reason: str
    advice: str
    go_if: tuple[GoIf, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Margin:
    """Signed margins: positive is safe; NaN unknown; +inf does not apply.

    `margin`, `soft` broadcast to (r,n); breaking `soft` is only a caution. `value`, `limit`
    `(n,)` and `thing (n,)` (what decides, "" none) are row 0's. `why(i, verdict)` words the
    sample i that decides. `family`, `unit` override the check's own where this margin is another
    kind.
    `share` is the allowed share of rides that may break it.
    """

    margin: Array
    value: Array
    limit: Array
    thing: NDArray[np.object_]
    why: Callable[[int, Verdict], Words]
    soft: Array | None = None
    family: Family | None = None
    unit: str | None = None
    share: float = 0.01
    remarks: tuple[Remark, ...] = ()
    assumptions: tuple[str, ...] = ()
    drawings: tuple[Drawing, ...] = ()
    source: str = ""


@dataclass(frozen=True, kw_only=True)
class Check:
    """A question asked of every scene. `rides` "first": no ride changes it; `pointwise`: a sample's
    margin never depends on the samples beside it; `group`: what a caution of it is about."""

    id: str
    family: Family
    question: str
    unit: str
    margins: Callable[[Scene], tuple[Margin, ...]]
    rides: Literal["all", "first"] = "all"
    pointwise: bool = True
    binds: Literal["at-least", "at-most"] = "at-least"
    group: Group = "place"


class Spot(NamedTuple):
    """The place of a finding. Heights NaN unknown."""

    sample: int
    time_s: float
    ride_m: float
    xyz_m: tuple[float, float, float]
    height_above_launch_m: float
    height_m: float
    surface_m: float


class Part(NamedTuple):
    """One of a check's margins by place: `least`, `least_soft (r,k)`, the share of rides that may
    break it, its family."""

    least: NDArray[np.float32]
    least_soft: NDArray[np.float32]
    share: float
    family: Family


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One per check and shot, `go` included. `value`, `limit`, `margin` at the worst place, None
    where unknown or nothing applies: those of ride number `ride`. Row 0's `margins`, `softs`,
    `values`, `limits`, `things (n,)`; `sample_codes (n,)` its verdict (as int) at each sample,
    `metre_codes (k,)` that of all rides at each metre; `least`, `least_soft (r,k)` each ride's
    least while the rider is within 5 m of metre k, all `parts` together."""

    check: str
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
        for found in self.findings:
            if found.check == check:
                return found
        raise KeyError(check)


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
