"""Whether it stays out of what is closed to it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.solids import prisms
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Told, Why
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

REACH_M = 200.0


def margins(scene: Scene) -> tuple[Margin, ...]:
    """3-D distance to the nearest keep-out between its floor and ceiling, less half the span."""
    half, zones = scene.aircraft.half_span_m, scene.site.zones
    solids = [prisms.index(zone.prisms) for zone in zones]
    value: Array = np.full(scene.track.known.shape, np.inf)
    if zones:
        value = scene.least_here(lambda p: _nearest(solids, p)[0], half + scene.enough_m) - half
    _, which = _nearest(solids, np.array(scene.track.xyz_m[0]))
    return (
        Margin(
            margin=value,
            value=np.where(np.isinf(value[0]), np.nan, value[0]),
            limit=np.zeros(len(which)),
            thing=np.array([zones[w].id if w >= 0 else "" for w in which], dtype=object),
            why=_said(scene, which, value[0]),
            assumptions=_drawn_out([zone.error_m for zone in zones]),
            source="the keep-outs as drawn",
        ),
    )


def _drawn_out(errors_m: list[float]) -> tuple[str, ...]:
    if max(errors_m, default=0.0) == 0.0:
        return ()
    by = say.span(errors_m)
    return (f"each keep-out is grown by {by} from where it is drawn: {say.ONE_ERROR}",)


def _nearest(solids: list[prisms.PrismIndex], xyz_m: Array) -> tuple[Array, NDArray[np.intp]]:
    """Distance `(k,)` to the nearest zone (+inf none within reach) and which it is (-1 none)."""
    least, which = np.full(len(xyz_m), np.inf), np.full(len(xyz_m), -1)
    for index, solid in enumerate(solids):
        distance = prisms.nearest(solid, xyz_m, REACH_M).distance_m
        which = np.where(distance < least, index, which)
        least = np.minimum(least, distance)
    return least, which


def _said(scene: Scene, which: NDArray[np.intp], away_m: Array) -> Why:
    zones = scene.site.zones

    def reason(i: int, spot: str) -> str:
        zone = zones[which[i]]
        sure = "is" if away_m[i] < -zone.error_m else "may be"
        entered = f": it {sure} entered" if away_m[i] < 0.0 else ""
        called = f"{zone.name or zone.id}{f' ({zone.reason})' if zone.reason else ''}"
        return f"{say.metres(max(away_m[i], 0.0))} from the keep-out {called}, {spot}{entered}"

    return told(
        scene,
        reason,
        lambda i: f"keep {say.metres(-away_m[i])} farther away there, or end the shot before it",
        nothing=f"no keep-out within {REACH_M:.0f} m" if zones else "no keep-out is drawn",
        unknown=no_ground("the ground is not known at {spot}", "it stays outside"),
    )


CHECK = Check(
    id="keep-out",
    family="rule",
    group="place",
    question="does it stay out?",
    unit="m",
    shown=AGAINST,
    told=Told("it enters the keep-out, {thing}", strays=""),
    nature=Nature(hits="nothing", placed=True, by_style=True, searched="once"),
    margins=margins,
    wind="none",
    lifts="a part of the ride outside the keep-out, or word from whoever keeps it",
)
