"""Whether it stays under the ceiling, straight down and to the nearest surface."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.kernels.ground import posts
from shotplan.kernels.solids import prisms
from shotplan.model import say
from shotplan.model.arrays import Array, Bools
from shotplan.model.obstacles import Bodies, Thing
from shotplan.model.rules import StructureRule
from shotplan.model.terrain import Terrain
from shotplan.scene.margin import AGAINST, Check, Margin, Nature, Remark, Told, Why
from shotplan.scene.scene import Scene
from shotplan.scene.telling import no_ground, told

STRUCTURES = ("building", "pole")  # man-made and upright: never a tree, never a cliff
WORTH_SAYING_M = 1.0


class Allowed(NamedTuple):
    """What structures add. `margin_m (r,n)` up to where they let it go, -inf away from all;
    `thing (n,)` row 0's index into things, -1 none."""

    margin_m: Array
    thing: NDArray[np.intp]


class Measured(NamedTuple):
    """How it was measured. `value_m (r,n)` by the pack's own measure; `doubt_m (r or 1,n)` how far
    the height straight down may be off near a lip (0 by the other measure)."""

    value_m: Array
    doubt_m: Array
    allowed: Allowed


def margins(scene: Scene) -> tuple[Margin, ...]:
    """The pack's own measure decides; both are always computed and said. Near a structure the
    pack may allow more; near a lip the height straight down is only known so well."""
    rule = scene.rules.height
    measured = _measured(scene)
    plain = rule.limit_m - measured.value_m
    margin = np.maximum(plain, measured.allowed.margin_m)
    doubted = measured.doubt_m.any()
    soft = np.maximum(plain - measured.doubt_m, measured.allowed.margin_m) if doubted else plain
    by_structure = (measured.allowed.margin_m > plain)[0]
    things = scene.site.obstacles.things
    thing = np.full(margin.shape[1], rule.measured.replace("-", " "), dtype=object)
    for i in np.flatnonzero(by_structure):
        thing[i] = things[measured.allowed.thing[i]].id
    return (
        Margin(
            margin=margin,
            soft=np.where(measured.doubt_m > 0.0, soft, np.inf) if doubted else None,
            value=measured.value_m[0],
            limit=np.where(by_structure, measured.value_m[0] + margin[0], rule.limit_m),
            thing=thing,
            why=_said(scene, measured, margin[0], by_structure),
            remarks=_remarks(scene, measured) if np.isinf(scene.enough_m) else (),
            assumptions=_assumptions(scene),
            source=str(rule.source),
        ),
    )


def _measured(scene: Scene) -> Measured:
    rule = scene.rules.height
    if rule.measured == "nearest-surface":
        value = _nearest(scene, rule.limit_m)
        doubt = np.zeros((1, value.shape[1]))
    else:
        value = scene.height_m
        doubt = lip_doubt_m(scene.site.terrain, scene.track.xyz_m[..., :2])
    return Measured(value, doubt, _structures(scene, value > rule.limit_m))


def _nearest(scene: Scene, limit_m: float) -> Array:
    """`(r,n)` distance to the nearest surface; beyond row 0 only where it can matter, since it
    is never more than the height straight down (or that of a place nearby and the way there).
    Unknown where missing ground could be nearer and the known ground alone is too far."""
    ground_m = scene.site.terrain.ground_m

    def room(xyz_m: Array) -> Array:
        spare = limit_m - (xyz_m[:, 2] - ground_m(xyz_m[:, :2]))
        return np.where(np.isnan(spare), -np.inf, spare)

    left = scene.least_here(room, 0.0)
    value = np.where(np.isinf(left), np.where(left > 0.0, 0.0, np.nan), limit_m - left)
    if np.isinf(scene.enough_m):
        value[0] = scene.surface_m
    rows, cols = np.nonzero(~(value <= limit_m))
    # Over ground that is not known it is enough to know whether some that is known is near.
    blank = np.isnan(value[rows, cols]) & ~np.isinf(scene.enough_m)
    for part, reach_m in ((~blank, np.inf), (blank, limit_m + 1.0)):
        i, j = rows[part], cols[part]
        found = scene.site.terrain.nearest(np.array(scene.track.xyz_m[i, j]), reach_m)
        doubt = (found.distance_m > limit_m) & (found.missing_m < found.distance_m)
        value[i, j] = np.where(doubt | np.isinf(found.distance_m), np.nan, found.distance_m)
    return value


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


def _structures(scene: Scene, over: Bools) -> Allowed:
    """How far below what the nearest structures allow it stays, looked up where it is `over` the
    plain limit. A structure is taken lower and farther away by its errors."""
    rule = scene.rules.structure
    least = np.full(over.shape, -np.inf)
    which = np.full(over.shape, -1)
    rows, cols = np.nonzero(over)
    if rule is not None and not rule.on_request and len(rows):
        xyz = scene.track.xyz_m[rows, cols]
        for k, level, top in _tall(scene, rule, xyz[:, :2]):
            thing = scene.site.obstacles.things[k]
            near = level + thing.error_m <= rule.radius_m
            room = np.where(near, top - thing.height_error_m + rule.above_m - xyz[:, 2], -np.inf)
            better = room > least[rows, cols]
            which[rows, cols] = np.where(better, k, which[rows, cols])
            least[rows, cols] = np.fmax(room, least[rows, cols])
    return Allowed(least, which[0])


def _tall(scene: Scene, rule: StructureRule, xy_m: Array) -> list[tuple[int, Array, float]]:
    """Every structure tall enough: its index, the level distance `(m,)` to it, its top's
    elevation."""
    bodies = scene.site.obstacles.rest_drawn
    return [
        (k, *_one(bodies, k, xy_m))
        for k, thing in enumerate(scene.site.obstacles.things)
        if _counts(thing, rule) and (k in bodies.column_thing or k in bodies.prism_thing)
    ]


def _counts(thing: Thing, rule: StructureRule) -> bool:
    return thing.role in STRUCTURES and thing.height_m >= rule.least_height_m


def _one(bodies: Bodies, k: int, xy_m: Array) -> tuple[Array, float]:
    """Level distance `(m,)` to the pieces of thing `k`, and the elevation of its top."""
    level, top = np.full(len(xy_m), np.inf), -np.inf
    mine = bodies.column_thing == k
    if mine.any():
        way = xy_m[:, None] - bodies.columns.xy_m[mine]
        gap = np.hypot(way[..., 0], way[..., 1]) - bodies.columns.radius_m[mine]
        level, top = gap.min(axis=1), float(bodies.columns.top_m[mine].max())
    mine = bodies.prism_thing == k
    if mine.any():
        walls = prisms.Prisms(*(field[mine] for field in bodies.prisms))
        level = np.minimum(level, prisms.plan_distance(walls, xy_m).min(axis=1))
        top = max(top, float(walls.top_m.max()))
    return np.maximum(level, 0.0), top


def _said(scene: Scene, measured: Measured, margin: Array, by_structure: Bools) -> Why:
    ceiling = scene.rules.height.limit_m
    nearest = scene.rules.height.measured == "nearest-surface"
    over, doubt = measured.value_m[0] - ceiling, measured.doubt_m[0]
    allowed = measured.allowed.margin_m[0]
    doubted = (margin >= 0.0) & (np.maximum(-over - doubt, allowed) < 0.0)

    def reason(i: int, spot: str) -> str:
        said = (
            f"{say.metres(scene.height_m[0, i])} above the ground straight below, "
            f"{say.metres(scene.surface_m[i])} from the nearest surface, {spot}; the ceiling is "
            f"{say.metres(ceiling)} {'from the nearest surface' if nearest else 'straight down'}"
        )
        if by_structure[i]:
            said += _beside_it(scene, int(measured.allowed.thing[i]))
        if doubted[i]:
            said += (
                f"; on so steep a slope that height may be off by {say.metres(doubt[i])} "
                f"(half of what the ground falls over a cell of {scene.site.terrain.cell_m:.1f} m)"
            )
        return said

    def advice(i: int) -> str:
        more = over[i] + doubt[i] if doubted[i] else min(over[i], -allowed[i])
        cure = f"fly at least {say.rounded_up(more):.1f} m lower there"
        if doubted[i]:
            return f"{cure}, or give terrain with smaller cells"
        if not nearest and scene.height_m[0, i] - scene.surface_m[i] > 5.0:
            cure += ", or stay over the high ground: beyond the edge the drop counts as height"
        return cure

    kept = f"the height stays under {say.metres(ceiling)}"
    unknown = no_ground("the ground below is not known at {spot}", kept)
    return told(scene, reason, advice, unknown=unknown)


def _beside_it(scene: Scene, k: int) -> str:
    """What allows more at a sample."""
    rule = scene.rules.structure
    assert rule is not None
    return (
        f", but within {rule.radius_m:.0f} m of {scene.site.obstacles.things[k].label} it may go "
        f"to {rule.above_m:.0f} m above its top ({rule.source})"
    )


def _remarks(scene: Scene, measured: Measured) -> tuple[Remark, ...]:
    return (_both(scene), *_lip(measured.doubt_m[0]), *_asked(scene))


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


def _asked(scene: Scene) -> tuple[Remark, ...]:
    """Structures near which more is allowed, but only when somebody asks for it."""
    rule = scene.rules.structure
    if rule is None or not rule.on_request:
        return ()
    near = [
        scene.site.obstacles.things[k].label
        for k, level, _ in _tall(scene, rule, scene.track.xyz_m[0, :, :2])
        if (level <= rule.radius_m).any()
    ]
    if not near:
        return ()
    return (
        Remark(
            f"within {rule.radius_m:.0f} m of {', '.join(near)} it might go to "
            f"{rule.above_m:.0f} m above the top, when whoever is responsible for it asks: not "
            "counted here",
            source=str(rule.source),
        ),
    )


def _assumptions(scene: Scene) -> tuple[str, ...]:
    lines = ["trees and roofs do not count as the surface of the earth"]
    rule = scene.rules.structure
    if rule is not None and not rule.on_request:
        lines.append(
            "structures that allow more height are buildings and poles as drawn, lower and farther "
            "by their errors; never trees or cliffs"
        )
    return tuple(lines)


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
