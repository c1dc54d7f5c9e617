"""Whether it stays under the ceiling, straight down and to the nearest surface.

Nothing that somebody drew raises the ceiling: what a "structure" is the texts do not say, so a pack
that knows one is only told of.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from shotplan.kernels.ground import posts
from shotplan.kernels.solids import prisms
from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.obstacles import Bodies, Thing
from shotplan.model.rules import StructureRule
from shotplan.model.terrain import Terrain
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Remark, Told, Why
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

STRUCTURES = ("building", "pole")  # man-made and upright: never a tree, never a cliff
WORTH_SAYING_M = 1.0
MOST_NAMED = 3


class Measured(NamedTuple):
    """How it was measured. `room_m (r,n)` under the ceiling and `value_m (n,)` row 0's height by
    the pack's own measure; `doubt_m (r or 1,n)` how far the height straight down may be off near a
    lip (0 by the other measure)."""

    room_m: Array
    value_m: Array
    doubt_m: Array


def margins(scene: Scene) -> tuple[Margin, ...]:
    """The pack's own measure decides; both are always computed and said. Near a lip the height
    straight down is only known so well."""
    rule = scene.rules.height
    margin, value, doubt = measured = _measured(scene)
    n = len(value)
    return (
        Margin(
            margin=margin,
            soft=np.where(doubt > 0.0, margin - doubt, np.inf) if doubt.any() else None,
            value=value,
            limit=np.full(n, rule.limit_m),
            thing=np.full(n, rule.measured.replace("-", " "), dtype=object),
            why=_said(scene, measured),
            remarks=_remarks(scene, measured) if np.isinf(scene.enough_m) else (),
            assumptions=("trees and roofs do not count as the surface of the earth",),
            source=str(rule.source),
        ),
    )


def _measured(scene: Scene) -> Measured:
    rule = scene.rules.height
    if rule.measured == "nearest-surface":
        room, value = _nearest(scene, rule.limit_m)
        return Measured(room, value, np.zeros((1, len(value))))
    doubt = lip_doubt_m(scene.site.terrain, scene.track.xyz_m[..., :2])
    return Measured(rule.limit_m - scene.height_m, scene.height_m[0], doubt)


def _nearest(scene: Scene, limit_m: float) -> tuple[Array, Array]:
    """Room `(r,n)` under a ceiling over the nearest surface, and row 0's distance to that: beyond
    it only asked where the height straight down, which is never less (nor that of a place nearby
    and the way there), is too much. Unknown where missing ground could be nearer and the known
    ground alone is too far."""
    terrain, xyz = scene.site.terrain, scene.track.xyz_m

    def room_m(here_m: Array) -> Array:
        """Over unknown ground it is enough to know whether some that is known is near."""
        away = np.empty(len(here_m))
        blank = np.isnan(terrain.ground_m(here_m[:, :2]))
        for part, reach_m in ((~blank, np.inf), (blank, limit_m + 1.0)):
            away[part] = terrain.distance_m(here_m[part], reach_m)
        return limit_m - away

    def least_room_m(here_m: Array) -> Array:
        room = limit_m - (here_m[:, 2] - terrain.ground_m(here_m[:, :2]))
        return np.where(np.isnan(room), -np.inf, room)

    if np.isinf(scene.enough_m):
        room, value = limit_m - scene.away_m, scene.surface_m
    else:
        room = scene.least_here(room_m, 0.0, least_room_m)
        room = np.where(np.isneginf(room), np.nan, room)
        value = limit_m - room[0]
    at = np.nonzero(room < 0.0)
    if len(at[0]):
        away = limit_m - room[at]
        missing = terrain.missing_m(np.array(xyz[at]), away)
        room[at] = np.where(missing < away, np.nan, room[at])
    return room, np.where(np.isnan(room[0]), np.nan, value)


def lip_doubt_m(terrain: Terrain, xy_m: Array) -> Array:
    """How far the ground straight below `xy_m (..., 2)` may be off: tan(slope) · cell / 2, half of
    what the ground falls over one cell by the posts around. 0 on level ground and over water
    (whose level is known), and where the ground is not known."""
    grid = terrain.grid
    row, col = posts.rows_cols(grid, xy_m[..., 0], xy_m[..., 1])
    i, j, inside = posts.patch_at(grid, row, col)
    z00, z01, z10, z11 = posts.corners(grid, i, j)
    v, u = np.clip(row - i, 0.0, 1.0), np.clip(col - j, 0.0, 1.0)
    per_row = z10 - z00 + u * (z11 - z01 - z10 + z00)
    per_col = z01 - z00 + v * (z11 - z10 - z01 + z00)
    doubt = np.where(inside, 0.5 * np.hypot(per_row, per_col), 0.0)
    under_water = terrain.ground_m(xy_m) > posts.sample(grid, xy_m)
    return np.where(under_water | np.isnan(doubt), 0.0, doubt)


def _said(scene: Scene, measured: Measured) -> Why:
    ceiling = scene.rules.height.limit_m
    nearest = scene.rules.height.measured == "nearest-surface"
    over, doubt = measured.value_m - ceiling, measured.doubt_m[0]
    doubted = (over <= 0.0) & (over + doubt > 0.0)

    def reason(i: int, spot: str) -> str:
        said = (
            f"{say.metres(scene.height_m[0, i])} above the ground straight below, "
            f"{say.metres(scene.surface_m[i])} from the nearest surface, {spot}; the ceiling is "
            f"{say.metres(ceiling)} {'from the nearest surface' if nearest else 'straight down'}"
        )
        if doubted[i]:
            said += (
                f"; on so steep a slope that height may be off by {say.metres(doubt[i])} "
                f"(half of what the ground falls over a cell of {scene.site.terrain.cell_m:.1f} m)"
            )
        return said

    def advice(i: int) -> str:
        more = over[i] + doubt[i] if doubted[i] else over[i]
        cure = f"fly at least {say.rounded_up(more):.1f} m lower there"
        if doubted[i]:
            return f"{cure}, or give terrain with smaller cells"
        if not nearest and scene.height_m[0, i] - scene.surface_m[i] > 5.0:
            cure += ", or stay over the high ground: beyond the edge the drop counts as height"
        return cure

    kept = f"the height stays under {say.metres(ceiling)}"
    unknown = no_ground("the ground below is not known at {spot}", kept)
    return told(scene, reason, advice, unknown=unknown)


def _remarks(scene: Scene, measured: Measured) -> tuple[Remark, ...]:
    return (_both(scene), *_lip(measured.doubt_m[0]), *_structures(scene))


def _both(scene: Scene) -> Remark:
    """Both measures at their greatest, whichever decides."""
    straight, surface = (
        float(np.nanmax(h)) if np.isfinite(h).any() else np.nan
        for h in (scene.height_m[0], scene.surface_m)
    )
    measured = scene.rules.height.measured.replace("-", " ")
    return Remark(
        f"greatest height {say.metres(straight)} straight down, {say.metres(surface)} to the "
        f"nearest surface; {scene.rules.id} measures {measured}",
        source=str(scene.rules.height.source),
    )


def _lip(doubt_m: Array) -> tuple[Remark, ...]:
    """Where the height straight down is known badly, and for how much of the shot."""
    share = float((doubt_m > WORTH_SAYING_M).mean())
    if share == 0.0:
        return ()
    return (
        Remark(
            f"on {max(share, 0.01):.0%} of the shot the ground is so steep that the height "
            f"straight down may be off by more than {say.metres(WORTH_SAYING_M)}, at most "
            f"{say.metres(float(doubt_m.max()))} (slope times half a cell of the terrain)"
        ),
    )


def _structures(scene: Scene) -> tuple[Remark, ...]:
    """What is drawn near the way that the pack might call a structure: told, never counted."""
    rule = scene.rules.structure
    if rule is None:
        return ()
    near = [
        thing.label
        for k, thing in enumerate(scene.site.obstacles.things)
        if _may_count(thing, rule)
        and (_level_m(scene.site.obstacles.rest_drawn, k, scene.track.xyz_m[0, :, :2])
             <= rule.radius_m).any()
    ]  # fmt: skip
    if not near:
        return ()
    more = f" and {len(near) - MOST_NAMED} more" if len(near) > MOST_NAMED else ""
    names = ", ".join(near[:MOST_NAMED]) + more
    asked = " when whoever is responsible for it asks" if rule.on_request else ""
    return (
        Remark(
            f"{scene.rules.id} lets it go to {rule.above_m:.0f} m above the top within "
            f"{rule.radius_m:.0f} m of a structure{asked}: whether {names} "
            f"{'counts' if len(near) == 1 else 'count'} is for you to find out, and nothing drawn "
            "raises the ceiling here",
            source=str(rule.source),
        ),
    )


def _may_count(thing: Thing, rule: StructureRule) -> bool:
    return thing.role in STRUCTURES and thing.height_m >= (rule.least_height_m or 0.0)


def _level_m(bodies: Bodies, k: int, xy_m: Array) -> Array:
    """Level distance `(m,)` to the pieces of thing `k`; inf where it has none."""
    level = np.full(len(xy_m), np.inf)
    mine = bodies.column_thing == k
    if mine.any():
        way = xy_m[:, None] - bodies.columns.xy_m[mine]
        level = (np.hypot(way[..., 0], way[..., 1]) - bodies.columns.radius_m[mine]).min(axis=1)
    mine = bodies.prism_thing == k
    if mine.any():
        walls = prisms.Prisms(*(field[mine] for field in bodies.prisms))
        level = np.minimum(level, prisms.plan_distance(walls, xy_m).min(axis=1))
    return np.asarray(level)


CHECK = Check(
    id="height",
    family="rule",
    group="place",
    question="is it low enough?",
    unit="m",
    shown=AGAINST,
    told=Told("it flies too high", strays=""),
    nature=Nature(hits="nothing", placed=True, by_style=True, searched="once"),
    margins=margins,
    wind="none",
    binds="at-most",
)
