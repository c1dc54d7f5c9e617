"""Whether it stays inside the area where it may be."""

from __future__ import annotations

from functools import partial

import numpy as np

from shotplan.kernels.solids.footprints import inside_m
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.scene import needs
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Told, Why, Words
from shotplan.scene.scene import Scene
from shotplan.scene.telling import told

NOT_SAID = Words(
    "no boundary is drawn, or the place is not known: where it may fly is not said",
    "draw one polygon with role `boundary`; go if the flight stays inside it",
)


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Level distance inside the boundary as far as its place is known, less half the span."""
    outline = scene.site.boundary
    half = scene.aircraft.half_span_m + scene.site.boundary_error_m
    value = np.full(scene.track.known.shape, np.nan)
    if outline is not None:
        inside = partial(inside_m, outline)
        value = scene.least_here(lambda p: inside(p[:, :2]), half + scene.enough_m) - half
    n = scene.track.ride.t_s.size
    return (
        Margin(
            margin=value,
            value=value[0],
            limit=np.zeros(n),
            thing=np.full(n, "boundary" if outline is not None else "", dtype=object),
            why=_said(scene, value[0]),
            assumptions=_drawn_in(scene.site.boundary_error_m),
            source="the boundary as drawn",
        ),
    )


def _drawn_in(error_m: float) -> tuple[str, ...]:
    if error_m == 0.0:
        return ()
    return (
        f"the boundary is taken {say.metres(error_m)} in from where it is drawn: {say.ONE_ERROR}",
    )


def _said(scene: Scene, inside_m: Array) -> Why:
    def reason(i: int, spot: str) -> str:
        if 0.0 > inside_m[i] >= -scene.site.boundary_error_m:
            return f"{say.metres(-inside_m[i])} too near to the boundary to be sure of it, {spot}"
        side = "inside" if inside_m[i] >= 0.0 else "outside"
        return f"{say.metres(abs(inside_m[i]))} {side} the boundary, {spot}"

    def advice(i: int) -> str:
        return f"bring it {say.metres(-inside_m[i])} nearer, or ask for more ground and draw it"

    return told(scene, reason, advice, unknown=NOT_SAID)


CHECK = Check(
    id="boundary",
    family="rule",
    group="place",
    question="does it stay inside?",
    unit="m",
    shown=AGAINST,
    told=Told("it leaves the boundary", strays=""),
    nature=Nature(hits="nothing", placed=True, by_style=True, searched="once"),
    margins=margins,
    wind="none",
    on_terrain=False,
    lifts="a wider boundary, or a part of the ride farther inside it",
    needs=(needs.BOUNDARY,),
)
