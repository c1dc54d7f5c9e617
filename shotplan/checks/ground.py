"""How near it comes to the ground itself, cliffs and water included."""

from __future__ import annotations

from functools import partial

import numpy as np

from shotplan.kernels.solids.segments import least_along
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.site import LEAST_HEIGHT_M
from shotplan.model.terrain import Terrain
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Remark, Told, Why
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

PLENTY_M = 20.0  # known ground that far off is not looked for where there is none below


def _deep_enough(
    terrain: Terrain, broken_m: float, start_m: Array, end_m: Array, enough_m: Array | float
) -> tuple[Array, Array]:
    """`terrain.least_along`; but where one of the ends is nearer than `broken_m` straight down,
    that height, which is never less than the distance."""
    drop = np.fmin(
        start_m[:, 2] - terrain.ground_m(start_m[:, :2]),
        end_m[:, 2] - terrain.ground_m(end_m[:, :2]),
    )
    rest = np.flatnonzero(~(drop < broken_m))
    share = np.zeros(len(drop))
    if len(rest):
        enough = np.broadcast_to(enough_m, drop.shape)[rest]
        drop[rest], share[rest] = terrain.least_along(start_m[rest], end_m[rest], enough)
    return drop, share


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Distance to the nearest point of the surface, from the overrun where blind."""
    shape = scene.track.known.shape
    n = shape[1]
    terrain = scene.site.terrain
    fixed = scene.keep_m + terrain.error_m
    most = max(LEAST_HEIGHT_M, *(a.least_height_m for a in scene.site.surveyed), 0.0)
    enough = fixed + most + scene.enough_m
    least = terrain.least_along
    if 0.0 < scene.enough_m < np.inf:  # a search of the undisturbed ride
        least = partial(_deep_enough, terrain, fixed)
    value, _ = scene.least_along(least, enough, terrain.at_least_along)
    least_height = _least_height_m(scene, value < enough, most)
    limit = fixed + least_height
    unknown = (value >= limit) & _missing(scene, value)
    margin = np.where(unknown, np.nan, value - limit)

    parts = (
        f"the limit of {limit[0]:.2f} m is {scene.aircraft.half_span_m:.2f} m half span, "
        f"{scene.site.keep_clear_m:.2f} m keep_clear_m, {terrain.error_m:.2f} m terrain error and "
        f"{least_height[0]:.2f} m for low things nobody drew"
    )
    return (
        Margin(
            margin=margin.reshape(shape),
            value=np.where(np.isinf(value), np.nan, value)[:n],
            limit=limit[:n],
            thing=np.full(n, "ground", dtype=object),
            why=_said(scene, value, limit),
            share=0.05,
            remarks=(Remark(parts, kind="limit"),),
            assumptions=terrain.assumptions,
            source=terrain.source,
        ),
    )


def _least_height_m(scene: Scene, near: Bools, most_m: float) -> Array:
    """How high things nobody drew may be `(r * n,)`, asked where it is `near` (else the most)."""
    places = scene.track.xyz_m.reshape(-1, 3)[:, :2]
    if np.isinf(scene.enough_m):
        return scene.site.least_height_m(places)
    found = np.full(len(near), most_m)
    found[near] = scene.site.least_height_m(places[near])
    return found


def _missing(scene: Scene, value: Array) -> Bools:
    """Where missing ground is nearer, in plan, than the ground that is known `(r * n,)`."""
    terrain = scene.site.terrain

    def spare(start_m: Array, end_m: Array, _enough_m: Array | float) -> tuple[Array, Array]:
        """Half of what the missing is farther: each of the two changes by no more than the way."""
        if np.isinf(scene.enough_m):
            known, over = value, np.zeros(len(value), dtype=bool)
        else:
            known = np.empty(len(start_m))
            over = terrain.missing_m(start_m, np.ones(len(start_m))) == 0.0
            for part, reach_m in ((over, PLENTY_M), (~over, np.inf)):
                known[part], _ = terrain.least_along(start_m[part], end_m[part], reach_m)
        missing = np.zeros(len(known))
        missing[~over] = _missing_m(scene, start_m[~over], end_m[~over], known[~over])
        less = np.where(np.isinf(known), -PLENTY_M, 0.5 * (missing - known))
        return less, np.zeros(len(less))

    def quick(start_m: Array, end_m: Array, enough_m: Array | float) -> Array:
        way = np.sqrt(((end_m - start_m) ** 2).sum(axis=1))
        most = np.abs(start_m[:, 2] - terrain.ground_m(start_m[:, :2]))  # it is no farther
        far = terrain.missing_m(start_m, most + way + 2.0 * enough_m)
        return np.where(np.isnan(most), -np.inf, 0.5 * (far - way - most))

    return scene.least_along(spare, 0.0, quick, sign_only=True)[0] < 0.0


def _missing_m(scene: Scene, start_m: Array, end_m: Array, value_m: Array) -> Array:
    """Least level distance to missing ground along the overruns, asked only where it could be
    nearer than the ground that is known."""
    terrain = scene.site.terrain
    missing = terrain.nearest(start_m).missing_m
    reach = np.linalg.norm(end_m - start_m, axis=1)
    near = missing - reach < value_m
    if near.any():
        missing[near], _ = least_along(
            lambda p: terrain.nearest(p).missing_m, start_m[near], end_m[near], 0.05
        )
    return missing


def _said(scene: Scene, away_m: Array, limit_m: Array) -> Why:
    def reason(i: int, spot: str) -> str:
        kept = say.metres(limit_m[i])
        return f"the ground is {say.metres(away_m[i])} away, {spot}; {kept} is kept"

    return told(
        scene,
        reason,
        lambda i: f"fly {limit_m[i] - away_m[i]:.1f} m higher or farther from the slope",
        unknown=lambda i, _spot: no_ground(
            "the ground is not known near {spot}", f"the ground stays {say.metres(limit_m[i])} away"
        ),
    )


CHECK = Check(
    id="ground",
    family="harm",
    group="place",
    question="clear of ground and water?",
    unit="m",
    shown=AGAINST,
    told=Told("it hits {thing}", strays="if it sinks", name="the ground"),
    nature=Nature(hits="bodies", placed=True, by_style=True, searched="once"),
    margins=margins,
    wind="none",
)
