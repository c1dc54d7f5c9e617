"""Where the rider starts: a run-up before the first shot, and where the others begin."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from shotplan.judging.judged import Plan
from shotplan.model.arrays import Array
from shotplan.model.site import Place
from shotplan.output import stop as stops
from shotplan.output.brief import stand
from shotplan.output.brief.rows import on_ride
from shotplan.output.brief.stand import Stand
from shotplan.output.words import letter
from shotplan.scene.landmarks import paces

SAME_M = 5.0  # shots that begin so near each other begin at one place
RUN_UP_M = 22.5  # 30 paces to be at pace where the shot begins: own setting


def begins(plan: Plan) -> Array:
    """Where the rider waits before the first shot that is flown, `(3,)`."""
    ride = plan.outing.ride
    return np.array([np.interp(_at_m(plan), ride.along_m[0], c) for c in ride.xyz_m[0].T])


def _at_m(plan: Plan) -> float:
    first = plan.shots[stops.told(plan)[0]].ride_from_m
    return max(first - RUN_UP_M, float(plan.outing.ride.along_m[0, 0]))


def starts(plan: Plan) -> tuple[tuple[Stand, ...], tuple[str, ...]]:
    """The place to start from, and what to know of the shots that are flown."""
    ride, shots, site = plan.outing.ride, stops.told(plan), plan.outing.site
    one, name, xyz = plan.shots[shots[0]], letter(shots[0]), begins(plan)
    run = paces(one.ride_from_m - _at_m(plan))
    way = stand.way(plan, Place(id="", name="", xyz_m=xyz))
    ahead = [np.interp(_at_m(plan) + 5.0, ride.along_m[0], c) for c in ride.xyz_m[0].T]
    line = np.array(ahead)[:2] - xyz[:2]
    first = Stand(
        f"{run} paces before {name} begins" if run else f"{name} begins here",
        way,
        f"Ride {stand.needle(plan, math.atan2(line[0], line[1]))}.",
        stand.degrees(site, xyz[:2]),
        stand.grid(site, xyz[:2]),
    )
    return (first,), tuple(_notes(plan, shots))


def _notes(plan: Plan, shots: list[int]) -> Iterator[str]:
    """Where they begin."""
    at_m = plan.shots[shots[0]].ride_from_m
    apart = [i for i in shots[1:4] if abs(plan.shots[i].ride_from_m - at_m) > SAME_M]
    told = [
        f"{letter(i)} begins {on_ride(plan, plan.shots[i], plan.shots[i].ride_from_m)}"
        for i in (shots[0], *apart)
    ]
    if "along the ride" in told[0]:
        yield f"Be at pace where {letter(shots[0])} begins."
    else:
        yield f"{told[0]}: be at pace there."
    if told[1:]:
        yield f"{'; '.join(told[1:])}."
