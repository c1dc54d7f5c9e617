"""How near it comes to the ground itself, cliffs and water included."""

from __future__ import annotations

from functools import partial
from typing import NamedTuple

import numpy as np

from shotplan.kernels.solids.segments import least_along
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.site import LEAST_HEIGHT_M
from shotplan.model.terrain import SURE_M, Terrain
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Told, Why, Words
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


class Kept(NamedTuple):
    """What is kept from the ground, `(r * n,)` or a number: its parts and, where the terrain's
    error is more than `SURE_M`, which samples that alone leaves in doubt."""

    keep_m: float
    error_m: Array
    least_height_m: Array
    too_coarse: Bools

    @property
    def limit_m(self) -> Array:
        """The whole of it."""
        return self.keep_m + self.error_m + self.least_height_m


def margins(scene: Scene) -> tuple[Margin, ...]:
    """Distance to the nearest point of the surface, from the overrun where blind."""
    shape = scene.track.known.shape
    n = shape[1]
    terrain = scene.site.terrain
    most = max(LEAST_HEIGHT_M, *(a.least_height_m for a in scene.site.surveyed), 0.0)
    enough = scene.keep_m + terrain.most_error_m + most + scene.enough_m
    least = terrain.least_along
    if 0.0 < scene.enough_m < np.inf:  # a search of the undisturbed ride
        least = partial(_deep_enough, terrain, scene.keep_m + min(terrain.error_m, SURE_M))
    value, share = scene.least_along(least, enough, terrain.at_least_along)
    kept = _kept(scene, value, share, most)
    limit = kept.limit_m
    unknown = kept.too_coarse | ((value >= limit) & _missing(scene, value))
    margin = np.where(unknown, np.nan, value - limit)
    return (
        Margin(
            margin=margin.reshape(shape),
            value=np.where(np.isinf(value), np.nan, value)[:n],
            limit=limit[:n],
            thing=np.full(n, "ground", dtype=object),
            why=_said(scene, value, share, kept),
            share=0.05,
            source=terrain.source,
        ),
    )


def _kept(scene: Scene, value: Array, share: Array, most_m: float) -> Kept:
    """The limit and its parts. Of disturbed rides the slope is asked only where it can decide."""
    terrain, keep = scene.site.terrain, scene.keep_m
    enough = keep + terrain.most_error_m + most_m + scene.enough_m
    low = _least_height_m(scene, value < enough, most_m)
    error = np.full(len(value), terrain.error_m)
    start, end = (a.reshape(-1, 3) for a in (scene.track.xyz_m, scene.overrun_end_m))
    at = np.flatnonzero(np.isfinite(value) & (value < enough))
    here = start[at] + share[at, None] * (end[at] - start[at])
    if not np.isinf(scene.enough_m):
        most = terrain.most_error_near_m(here, value[at])
        near = value[at] < keep + low[at] + most + scene.enough_m
        at, here = at[near], here[near]
    error[at] = terrain.error_at_m(here)
    sure = keep + low + np.minimum(error, SURE_M)
    return Kept(keep, error, low, (value >= sure) & (value < keep + low + error))


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


def _said(scene: Scene, away_m: Array, share: Array, kept: Kept) -> Why:
    limit = kept.limit_m

    def reason(i: int, spot: str) -> str:
        return f"the ground is {_away(i)}, {spot}; {say.metres(limit[i])} is kept: {_parts(i)}"

    def _away(i: int) -> str:
        run = float(share[i] * scene.overrun_m[0, i])
        if run < 0.05:
            return f"{say.metres(away_m[i])} away"
        return (
            f"{say.metres(away_m[i])} from where it would run on to ({say.metres(run)} farther, in "
            "a direction it does not sense)"
        )

    def _parts(i: int) -> str:
        return (
            f"{scene.aircraft.half_span_m:.2f} m half span, {scene.site.keep_clear_m:.2f} m your "
            f"own margin, {kept.error_m[i]:.2f} m that the terrain may be off there and "
            f"{kept.least_height_m[i]:.2f} m for low things nobody drew"
        )

    def unknown(i: int, spot: str) -> Words:
        if not kept.too_coarse[i]:
            kept_away = f"the ground stays {say.metres(limit[i])} away"
            return no_ground(f"the ground is not known near {spot}", kept_away)
        # The least of the undisturbed ride: a terrain no farther off than that is go all along.
        spare = (away_m - kept.keep_m - kept.least_height_m)[: len(scene.track.ride.t_s)]
        apart = say.metres(scene.site.terrain.cell_m)
        least = float(spare[kept.too_coarse[: len(spare)]].min())
        return Words(
            f"the raster is too coarse to say: {reason(i, spot)}",
            f"give a finer one (its posts are {apart} apart); go if the ground nowhere stands "
            f"{say.rounded_down(least, 0.1):.1f} m higher than it says",
        )

    return told(
        scene,
        reason,
        lambda i: f"fly {limit[i] - away_m[i]:.1f} m higher or farther from the slope",
        unknown=unknown,
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
    lifts="more height over the ground (`--set`), or terrain that is known better "
    "(`terrain_error_m`)",
)
