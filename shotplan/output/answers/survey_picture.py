"""The site from above as `survey` reads it: what is drawn, where somebody looked, where nobody did.

What nobody looked at is hatched, so that it reads in grey: crossed where nobody looked for
anything, one way where something was left out, and the legend says what. Names of places are text.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from shotplan.model.arrays import Array
from shotplan.model.obstacles import Thing
from shotplan.model.site import KINDS
from shotplan.outing import Outing
from shotplan.output import credit, look, paper
from shotplan.output.answers.spots_picture import ORDER, TALLEST, TOLD, entry
from shotplan.output.lettering import cut, wide
from shotplan.output.map import drawing, ground, still
from shotplan.output.map.shapes import Extent, Shape
from shotplan.output.map.tags import PX, moves_pt
from shotplan.output.words import plain

NEAR_M = 100.0  # the same where surveys were read in, which look at what is near and find much
AROUND_M = 250.0  # of the ride that is shown, where the boundary reaches as far
CELLS = 160  # across the picture, at which it is asked whether somebody looked
COLOURS = 160
LEGEND_PT, ROW_IN = 8.5, 0.172
NAME_PT, NAME_ROOM = 8.5, 110.0
NEVER, PARTLY = "xxx", "//"
HATCH = "#4d4a73"


def png(outing: Outing) -> bytes:
    """A PNG of the map; the same outing gives the same bytes."""
    view, site = _view(outing), outing.site
    map_in = still.high_in(view)
    things = _near(outing, view)
    shapes = _shapes(outing, view, things[: drawing.MOST_THINGS])
    looks = {shape.look for shape in shapes}
    east, north, looked = _looked(outing, view)
    more = len(things) > drawing.MOST_THINGS
    legend_in = ROW_IN * math.ceil((len(looks & set(TOLD)) + len(_told(looked)) + more) / 2) + 0.12
    whole_in = map_in + legend_in
    figure = paper.figure(look.WIDTH_PX / look.DPI, whole_in)
    axes = paper.bare(figure, (0.0, legend_in / whole_in, 1.0, map_in / whole_in))
    still.backdrop(axes, ground.relief(site.terrain, site.frame, view), view)
    _hatched(axes, east, north, looked.mean(axis=0))
    for shape in shapes:
        still.draw(axes, shape)
    _names(axes, outing, view)
    still.scale_bar(axes, view)
    still.credit_line(axes, view, credit.line(site))
    _legend(figure, looks, looked, len(things) - drawing.MOST_THINGS)
    return paper.png(figure, COLOURS)


def _view(outing: Outing) -> Extent:
    """The ride, all places, and the boundary as far as it matters from them."""
    reach_m = NEAR_M if outing.site.sources else AROUND_M
    spots = [p.xyz_m[None, :2] for p in outing.site.places.values()]
    known = [outing.ride.xyz_m[0, :, :2], *(s for s in spots if np.isfinite(s).all())]
    near, rim = drawing.around(known, 0.0, reach_m), drawing.around(known, 0.07, 12.0)
    outline = [outing.site.boundary[0]] if outing.site.boundary else []
    whole = drawing.around([*known, *outline], 0.04, 15.0)
    low = np.minimum(np.maximum(near[:2], whole[:2]), rim[:2])
    high = np.maximum(np.minimum(near[2:], whole[2:]), rim[2:])
    across, up = (float(v) for v in high - low)
    more = np.array([max(0.0, up / TALLEST - across), max(0.0, across * 0.5 - up)]) / 2.0
    return Extent(*(low - more).tolist(), *(high + more).tolist())


def _near(outing: Outing, view: Extent) -> list[Thing]:
    """The obstacles in view, the nearest to the ride first."""
    inside = [t for t in outing.site.obstacles.things if view.holds((t.where_m,))]
    ride = outing.ride.xyz_m[0, ::20, :2]
    away = [float(np.linalg.norm(ride - t.where_m.mean(axis=0), axis=1).min()) for t in inside]
    return [inside[i] for i in np.argsort(np.array(away), kind="stable")]


def _shapes(outing: Outing, view: Extent, things: list[Thing]) -> list[Shape]:
    """The ground, what lies and stands on it, the ride, from below."""
    site = outing.site
    near = sorted(things, key=lambda t: ORDER[t.role])
    shapes = [
        *(Shape("area", "water", w.outline) for w in site.terrain.water),
        *(s for s in ground.contours(site.terrain, view) if s.kind == "line"),
        *drawing.areas(site),
        *(shape for thing in near for shape in drawing.solid(thing)),
        *drawing.ride_line(outing),
    ]
    return [s for s in shapes if view.holds(s.parts)]


def _looked(outing: Outing, view: Extent) -> tuple[Array, Array, Array]:
    """Of points over the view, east `(i,)` and north `(j,)`: for which kinds somebody looked there,
    `(kinds, j, i)`, 0 or 1."""
    cell = (view.east_m - view.west_m) / CELLS
    east = np.arange(view.west_m, view.east_m + cell, cell)
    north = np.arange(view.south_m, view.north_m + cell, cell)
    xy = np.stack(np.meshgrid(east, north), axis=-1)
    return east, north, np.stack([outing.site.looked(xy, (k,)) for k in KINDS]).astype(float)


def _hatched(axes: Any, east: Array, north: Array, share: Array) -> None:
    """Where nobody looked, crossed; where not for everything, one way."""
    from matplotlib import rc_context

    levels = (-0.5, 0.5 / len(KINDS), 1.0 - 0.5 / len(KINDS), 1.5)
    with rc_context({"hatch.color": HATCH, "hatch.linewidth": 0.6}):
        axes.contourf(east, north, share, levels=levels, colors="none", hatches=(NEVER, PARTLY, ""))


def _names(axes: Any, outing: Outing, view: Extent) -> None:
    """Every place with its name, moved apart."""
    found = [p for p in outing.site.places.values() if np.isfinite(p.xyz_m[:2]).all()]
    if not found:
        return
    names = [cut(plain(p.label), NAME_ROOM, size=NAME_PT) or "…" for p in found]
    points = np.stack([p.xyz_m[:2] for p in found])
    sizes = np.array([[wide(n, NAME_PT) + 6.0, NAME_PT * 1.9] for n in names]) * PX
    lines = np.concatenate([outing.ride.xyz_m[0, ::20, :2], points])
    moves = moves_pt(view, points, sizes, [False] * len(found), lines)
    for place, name, move in zip(found, names, moves, strict=True):
        square = place.id == "launch"
        axes.plot(*place.xyz_m[:2, None], marker="s" if square else "D", color="white",
                  markeredgecolor=look.INK, markersize=7 if square else 6, markeredgewidth=1.6,
                  zorder=4)  # fmt: skip
        if move is not None:
            paper.beside(
                axes, place.xyz_m[:2], move, name, size=NAME_PT, ha="center", va="center",
                annotation_clip=True, zorder=5,
                arrowprops={"arrowstyle": "-", "color": look.INK, "linewidth": 0.8},
                bbox={"boxstyle": "round,pad=0.2", "linewidth": 0.0, "facecolor": "white",
                      "alpha": 0.85},
            )  # fmt: skip


def _legend(figure: Any, looks: set[str], looked: Array, left_out: int) -> None:
    """What is hatched; of the ground only what is drawn; how many obstacles are not."""
    from matplotlib.patches import Patch

    # The short ones come last: they stand on the right.
    shown = [look.LOOKS[name] for name in TOLD if name in looks]
    handles = [
        *(Patch(facecolor="white", edgecolor=HATCH, hatch=2 * hatch, label=label, linewidth=0.6)
          for hatch, label in _told(looked)),
        *(entry(it) for it in sorted(shown, key=lambda it: -len(it.says))),
    ]  # fmt: skip
    if left_out > 0:
        says = f"{left_out} obstacles farther off: not drawn"
        handles.insert(0, Patch(facecolor="none", edgecolor="none", label=says))
    paper.legend(figure, handles, (0.01, 0.0), columns=2, size=LEGEND_PT, borderpad=0.6,
                 labelspacing=0.35, columnspacing=1.2)  # fmt: skip


def _told(looked: Array) -> list[tuple[str, str]]:
    """Hatches, and for what nobody looked there."""
    some = (looked.max(axis=0) > 0.0) & (looked.min(axis=0) < 1.0)
    left_out = [k for k, where in zip(KINDS, looked, strict=True) if (where[some] < 1.0).any()]
    told: list[tuple[str, str]] = []
    if (looked.max(axis=0) == 0.0).any():
        told.append((NEVER, "nobody looked here"))
    if left_out:
        told.append((PARTLY, f"nobody looked for {', '.join(left_out)}"))
    if (looked.min(axis=0) > 0.0).any():
        told.append(("", "somebody looked for everything"))
    return told
