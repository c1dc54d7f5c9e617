"""Where to launch and to stand: what `advice/where_to_stand` finds, `output/spots` says and draws.

A vantage is one place in one role: what is seen from it, what is underfoot, what speaks against it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

from shotplan.model.arrays import Array
from shotplan.outing import Outing

Role = Literal["launch", "pilot", "spotter"]
ROLES: tuple[Role, ...] = ("launch", "pilot", "spotter")

TERMS = {
    "seen": "the share of the flight seen from there",
    "level": "level ground over 10 m",
    "open": "open sky and nothing near",
    "wind": "upwind or cross of the flight",
    "sun": "the sun not near the aircraft as seen from there",
    "walk": "a short way on foot from the ride",
    "near": "the farthest of the flight is near",
    "launch": "close to launch 1",
    "together": "the share seen from there or by the pilot",
}
WEIGHTS: Mapping[Role, Mapping[str, float]] = {
    "launch": {"seen": 0.3, "level": 0.25, "open": 0.2, "wind": 0.1, "walk": 0.1, "sun": 0.05},
    "pilot": {"seen": 0.6, "launch": 0.1, "sun": 0.1, "wind": 0.1, "level": 0.05, "near": 0.05},
    "spotter": {"together": 0.5, "seen": 0.2, "sun": 0.15, "wind": 0.1, "level": 0.05},
}
DOUBT = 0.1  # of the score, for each thing that is not known about a place
CROWDED = 0.3  # of the score, for a place beside a tree, building or pole; less farther off


class Watched(NamedTuple):
    """What an eye there sees, of all 0.1 s samples of all shots.

    `seen` the share with a free line of sight within the sight distance, `by_shot` for each shot;
    `unknown` the share whose line crosses ground that is not known (never counted as seen);
    `nearest_m`, `farthest_m` slant; `wind` shares flown upwind, cross and downwind of there (None
    not known, or calm); `glare_s`, `near_sun_s` how long one looks within 25° of the sun, or within
    50° only; `sun_s` how long the sun shines in that eye at all.
    """

    seen: float
    by_shot: tuple[float, ...]
    unknown: float
    nearest_m: float
    farthest_m: float
    wind: tuple[float, float, float] | None
    glare_s: float
    near_sun_s: float
    sun_s: float


class Underfoot(NamedTuple):
    """The place itself. `slope_deg` over 10 m; level distances (+inf none within reach): `drop_m`
    to ground that falls away, `obstacle_m` to what stands there (`obstacle` "" nothing, as grown by
    its error), `fall_m` to where the aircraft may come down (negative inside), `people_m` to where
    other people may be (`people` which), `ride_m` to the ride, `at_m` how far along it, `right_m`
    to its right there; `walk_m` on foot from it (+inf no way); `sky` share that is open over 15°
    (NaN not asked)."""

    slope_deg: float
    drop_m: float
    obstacle_m: float
    obstacle: str
    fall_m: float
    people_m: float
    people: str
    ride_m: float
    at_m: float
    right_m: float
    walk_m: float
    sky: float


@dataclass(frozen=True, kw_only=True)
class Vantage:
    """One place in one role. `number` from 1 for proposals, 0 where somebody stands now (`who`, in
    which `shots`, by index). `place` its label ("" not a place of the folder); `xyz_m (3,)` on the
    ground and `ground` None for one who rides. `terms` criterion -> 0 to 1, `score` their weighted
    sum less `DOUBT` for each of `doubts`; `against` what speaks against it; `launch_m` level
    distance to launch 1 (NaN none); `beside` the number of the pilot it is beside (0 none);
    `together` share seen from there or by that pilot, else pilot 1 (NaN not asked)."""

    role: Role
    number: int
    watched: Watched
    xyz_m: Array
    ground: Underfoot | None
    place: str = ""
    who: tuple[str, ...] = ()
    shots: tuple[int, ...] = ()
    terms: Mapping[str, float]
    score: float
    against: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    launch_m: float
    together: float
    beside: int = 0


@dataclass(frozen=True, kw_only=True)
class Vantages:
    """Everything found. `proposals` up to three a role, best first; `now` where they stand as the
    folder says; `tried` how many points were looked at for each role and `ruled_out` what left how
    many of them out; `limit_m` how far an aircraft this size is seen that day; `tracks` the
    flights `(n, 2)`, `fall` rings of where it may come down, `seen_from (k, 3)` east, north and
    share seen (roughly) of the points where somebody may stand; `notes` what to know."""

    outing: Outing
    proposals: Mapping[Role, tuple[Vantage, ...]]
    now: tuple[Vantage, ...]
    tried: Mapping[Role, int]
    ruled_out: Mapping[Role, tuple[tuple[str, int], ...]]
    limit_m: float
    tracks: tuple[Array, ...]
    fall: tuple[Array, ...]
    seen_from: Array
    notes: tuple[str, ...]
