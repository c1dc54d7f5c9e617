"""How near it comes to trees, woods, buildings, poles and wires."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shotplan.checks.clearance import cautions
from shotplan.checks.clearance.said import said
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.obstacles import Bodies
from shotplan.model.site import Kind
from shotplan.scene import needs
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Remark, Told
from shotplan.scene.scene import Scene
from shotplan.scene.survey_age import old_survey

SOURCE = "distance to the grown obstacle, common practice"
SHARE_REST = 0.05
SHARE_WIRES = 0.01


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Wires, and everything else: each with its own allowed share of rides. To wires the distance
    is taken from the whole overrun whether it senses or not: no sensor is trusted with them."""
    obstacles = scene.site.obstacles
    limit = scene.keep_m
    rest = _margin(scene, obstacles.rest_grown, limit, ("trees", "buildings"), SHARE_REST)
    wires = _margin(scene, obstacles.wires_grown, limit, ("wires",), SHARE_WIRES, sensed=False)
    told = np.isinf(scene.enough_m)
    remarks = (
        (Remark(_parts(scene), kind="limit"), *cautions.contingency(scene), *old_survey(scene))
        if told
        else ()
    )
    rest = replace(rest, remarks=remarks, assumptions=obstacles.assumptions)
    soft = [cautions.near_wires(scene)] if obstacles.wires else []
    soft += [cautions.under_crowns(scene)] if len(obstacles.beneath.prism_thing) else []
    return rest, wires, *soft


def _margin(
    scene: Scene, bodies: Bodies, limit_m: float, kinds: tuple[Kind, ...], share: float,
    sensed: bool = True,
) -> Margin:  # fmt: skip
    shape = scene.track.known.shape
    n = shape[1]
    enough = limit_m + scene.enough_m
    distance, at = scene.least_along(bodies.least_along, enough, sensed=sensed)
    doubt = _doubt_m(scene, bodies, enough, sensed)
    unlooked = ~_looked(scene, kinds)
    # Not known how high it is: the level distance is the least it can be.
    least = np.minimum(distance, doubt)
    unknown = (distance >= limit_m) & (unlooked | (doubt < limit_m))
    margin = np.where(unknown, np.nan, np.where(distance < limit_m, distance, least) - limit_m)
    value = np.where(np.isinf(distance) | (doubt < distance), np.nan, distance)[:n]
    start, end = scene.track.xyz_m[0], (scene.overrun_end_m if sensed else scene.stop_end_m)[0]
    thing = bodies.nearest(start + at[:n, None] * (end - start)).thing
    things = scene.site.obstacles.things
    runs_on = scene.blind[0] if sensed else np.ones(n, dtype=bool)
    return Margin(
        margin=margin.reshape(shape),
        value=value,
        limit=np.full(n, limit_m),
        thing=np.array([things[t].id if t >= 0 else "" for t in thing], dtype=object),
        share=share,
        why=said(scene, limit_m, distance[:n], thing, unlooked[:n], kinds, runs_on),
        source=SOURCE,
    )


def _doubt_m(scene: Scene, bodies: Bodies, enough_m: float, sensed: bool) -> Array:
    """Level distance `(r * n,)` to what is not known how high it is, along the overrun."""
    if not len(bodies.doubtful_thing):
        return np.full(scene.track.known.size, np.inf)
    return scene.least_along(bodies.least_doubt_along, enough_m, sensed=sensed)[0]


def _looked(scene: Scene, kinds: tuple[Kind, ...]) -> Bools:
    """Whether somebody looked for `kinds` at the sample `(r * n,)` and all along its overrun."""

    def depth(start_m: Array, end_m: Array, _enough_m: Array | float) -> tuple[Array, Array]:
        found = [
            scene.site.looked_m((start_m + share * (end_m - start_m))[:, :2], kinds)
            for share in np.linspace(0.0, 1.0, 6)
        ]
        return np.minimum.reduce(found), np.zeros(len(start_m))

    def quick(start_m: Array, end_m: Array, _enough_m: Array | float) -> Array:
        half = 0.5 * (end_m - start_m)[:, :2]
        depth = scene.site.looked_m(start_m[:, :2] + half, kinds)
        return np.asarray(depth - np.hypot(half[:, 0], half[:, 1]))

    return scene.least_along(depth, 0.0, quick, sign_only=True)[0] >= 0.0


def _parts(scene: Scene) -> str:
    """The parts of the limit and of what is measured, which add up."""
    aircraft, site = scene.aircraft, scene.site
    errors = [t.error_m for t in site.obstacles.things]
    doubt = (
        f"; each obstacle is first grown by {say.span(errors)}, {say.ONE_ERROR}" if errors else ""
    )
    overrun = float(scene.overrun_m[0].max())
    run = (
        f"; where it flies blind the distance is taken along the {say.metres(overrun)} "
        "at most that it runs on when everything freezes"
        if overrun > 0.0
        else ""
    )
    return (
        f"the limit of {scene.keep_m:.2f} m is {aircraft.half_span_m:.2f} m half span and "
        f"{site.keep_clear_m:.2f} m keep_clear_m, your own margin{doubt}{run}"
    )


CHECK = Check(
    id="clearance",
    family="harm",
    group="place",
    question="clear of trees and wires?",
    unit="m",
    shown=AGAINST,
    told=Told("it hits {thing}", strays="if it strays"),
    nature=Nature(hits="bodies", placed=True, by_style=True, searched="once"),
    margins=margins,
    wind="none",
    lifts="a wider place or part of the ride; or less of your own `keep_clear_m`, where what "
    "stands there is drawn from a measurement",
    needs=(*needs.looked_for("trees", "buildings", "wires"), needs.HEIGHTS),
)
