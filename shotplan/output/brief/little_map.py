"""The little map on a person's page: where they are, where it flies, what one can point at; and
that of a shot beside its profile, with its calls and its line by verdict.

Black on white, but for that line; names from files are text only.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from shotplan.aids.last_call import last_calls
from shotplan.judging.judged import Plan
from shotplan.model.arrays import Array
from shotplan.output import paper
from shotplan.output.lettering import cut, wide
from shotplan.output.map import flights, ground, still
from shotplan.output.map.naming import dense
from shotplan.output.map.shapes import Extent
from shotplan.output.words import letter, plain
from shotplan.scene.stands import spots

WIDE, HIGH = 250.0, 186.0
DPI = 220
RIM = 0.12
TYPE = 10.0
MOST_NAMES = 9
OFF = 9.0
AROUND = ((1, 0), (2, 0), (0, 1), (0, 2), (1, 1), (2, 1), (1, 2), (2, 2))
ARROW = {"arrowstyle": "->", "color": "black", "linewidth": 1.4}
LINES = {"contour": ("#b5b5b5", 0.5), "contour-fifth": ("#8d8d8d", 0.8)}


def png(plan: Plan, at_m: list[tuple[str, Array]], shots: list[int], caller: str) -> bytes:
    """With a ring at each of `at_m`: what is written at it, where `(2,)`; `caller` is theirs."""
    tracks = [plan.shots[i].scene.track.xyz_m[0, :, :2] for i in shots]
    axes, pen = _opened(plan, _extent([*tracks, *(xy[None] for _, xy in at_m)]))
    _flights(axes, plan, shots, pen)
    for text, xy in at_m:
        _ring(axes, xy)
        pen.put(xy, text, size=12.0, bold=True, always=True)
    _calls(axes, plan, shots, pen, caller)
    return _closed(axes, plan, pen)


def of_shot(plan: Plan, index: int) -> bytes:
    """One shot: its line by verdict, all its calls, where those stand who see it."""
    shot = plan.shots[index]
    path = shot.scene.track.xyz_m[0, :, :2]
    axes, pen = _opened(plan, _extent([path, shot.scene.track.ride.xyz_m[0, :, :2]]))
    size_m = (pen.view.east_m - pen.view.west_m) / 60.0  # the map is small, its marks are not
    for shape in flights.shapes(shot, index, size_m):
        if shape.kind != "mark" or shape.look == "cross":
            still.draw(axes, shape, zorder=3.0)
    pen.line(path)
    _disc(axes, path[0], letter(index), pen)
    for place in {s.place.id: s.place for s in spots(shot.scene)}.values():
        at = place.xyz_m[:2]
        axes.plot(*at, "D", color="white", markeredgecolor="black", markersize=7.0, zorder=4.0)
        pen.block(at)
    _calls(axes, plan, [index], pen)
    return _closed(axes, plan, pen)


def _opened(plan: Plan, view: Extent) -> tuple[Any, _Names]:
    """The ground of a view, and the pen for names."""
    axes = paper.bare(paper.figure(WIDE / 72.0, HIGH / 72.0, dpi=DPI, paper="white"))
    axes.set_xlim(view.west_m, view.east_m)
    axes.set_ylim(view.south_m, view.north_m)
    _ground(axes, plan, view)
    return axes, _Names(axes, view)


def _closed(axes: Any, plan: Plan, pen: _Names) -> bytes:
    """Names, north, a rim."""
    for name, xy in _things(plan, pen.view):
        pen.put(xy, name)
    _north(axes, pen.view)
    axes.plot([0, 1, 1, 0, 0], [0, 0, 1, 1, 0], color="black", linewidth=1.6,
              transform=axes.transAxes, clip_on=False, zorder=9.0)  # fmt: skip
    return paper.png(axes.figure, colours=32)


def _extent(points: list[Array]) -> Extent:
    every = np.concatenate(points)
    low, high = every.min(axis=0), every.max(axis=0)
    middle = (low + high) / 2.0
    half = np.maximum((high - low) * (0.5 + RIM), 25.0)
    share = WIDE / HIGH
    half = np.maximum(half, [half[1] * share, half[0] / share])
    return Extent(*(middle - half).tolist(), *(middle + half).tolist())


class _Names:
    """Writes names where nothing is written yet, eight places round a point."""

    def __init__(self, axes: Any, view: Extent):
        self._axes, self.view = axes, view
        self._taken: list[tuple[float, float, float, float]] = []
        self._per = WIDE / (view.east_m - view.west_m)
        self._count = 0

    def put(
        self,
        xy_m: Array,
        text: str,
        *,
        size: float = TYPE,
        bold: bool = False,
        always: bool = False,
    ) -> None:
        """At the first of eight places that is free; left out where none is."""
        if not always and self._count >= MOST_NAMES:
            return
        text = cut(text, 0.5 * WIDE, size=size, bold=bold)
        long, high = wide(text, size, bold=bold), 1.2 * size
        x, y = (xy_m - [self.view.west_m, self.view.south_m]) * self._per
        sides, ends = (-long / 2, OFF, -OFF - long), (-high / 2, OFF, -OFF - high)
        tries = [(sides[i], ends[k]) for i, k in AROUND]
        boxes = [(x + a, y + b, x + a + long, y + b + high) for a, b in tries]
        free = [b for b in boxes if self._free(b)]
        if not free and not always:
            return
        left, low, right, top = free[0] if free else boxes[0]
        self._taken.append((left, low, right, top))
        self._count += not always
        corner = np.array([self.view.west_m, self.view.south_m])
        spot = corner + np.array([left, (low + top) / 2.0]) / self._per
        halo(self._axes, float(spot[0]), float(spot[1]), text, size=size, bold=bold)

    def block(self, xy_m: Array, half: float = 6.0) -> None:
        """Nothing is written over a point."""
        x, y = (xy_m - [self.view.west_m, self.view.south_m]) * self._per
        self._taken.append((x - half, y - half, x + half, y + half))

    def line(self, path_m: Array, apart: float = 6.0) -> None:
        """Nothing is written over a line."""
        for xy in dense([path_m], apart / self._per):
            self.block(xy, 4.0)

    def _free(self, box: tuple[float, float, float, float]) -> bool:
        inside = box[0] > 3.0 and box[1] > 3.0 and box[2] < WIDE - 3.0 and box[3] < HIGH - 3.0
        return inside and not any(
            box[0] < t[2] and t[0] < box[2] and box[1] < t[3] and t[1] < box[3] for t in self._taken
        )


def halo(axes: Any, x: float, y: float, text: str, *, size: float, bold: bool = False) -> None:
    """A name on a white rim."""
    from matplotlib.patheffects import withStroke

    paper.write(axes, x, y, text, size=size, bold=bold, ink="black", zorder=8.0,
                path_effects=[withStroke(linewidth=3.0, foreground="white")])  # fmt: skip


def _ground(axes: Any, plan: Plan, view: Extent) -> None:
    from matplotlib.patches import Polygon

    site = plan.outing.site
    for water in site.terrain.water:
        axes.add_patch(Polygon(water.outline[0], facecolor="#d9d9d9", edgecolor="#777", zorder=1.0))
    for thing in site.obstacles.things:
        if thing.role == "wood" and len(thing.where_m) > 2:
            axes.add_patch(
                Polygon(thing.where_m, facecolor="#bdbdbd", edgecolor="#555", zorder=1.1)
            )
    for shape in ground.contours(site.terrain, view):
        if shape.kind == "line":
            colour, width = LINES[shape.look]
            axes.plot(*shape.parts[0].T, color=colour, linewidth=width, zorder=1.2)
    for thing in site.obstacles.things:
        if thing.role == "building" and len(thing.where_m) > 2:
            axes.add_patch(Polygon(thing.where_m, facecolor="#555", edgecolor="black", zorder=2.0))
        elif thing.role == "wire":
            axes.plot(*thing.where_m.T, color="black", linewidth=1.0, zorder=2.0)
        elif len(thing.where_m) == 1:
            axes.plot(*thing.where_m.T, "o", color="white", markeredgecolor="black", markersize=4.0,
                      markeredgewidth=1.2, zorder=2.0)  # fmt: skip
    for area in site.people:
        for part in area.parts if area.geometry == "line" else ():
            axes.plot(*part.T, color="black", linewidth=1.2, linestyle=(0, (5, 3)), zorder=2.1)
    ride = plan.outing.ride.xyz_m[0, :, :2]
    axes.plot(*ride.T, color="black", linewidth=1.7, zorder=2.2)
    _arrows(axes, ride, view)


def _arrows(axes: Any, ride: Array, view: Extent) -> None:
    """Which way one rides."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ride, axis=0).T))])
    step = (view.east_m - view.west_m) / 5.0
    for at in np.arange(step / 2.0, along[-1], step):
        tip, back = (
            np.array([np.interp(a, along, c) for c in ride.T]) for a in (at, at - 0.02 * step)
        )
        axes.annotate("", tuple(tip), xytext=tuple(back), zorder=2.3, annotation_clip=True,
                      arrowprops=ARROW)  # fmt: skip


def _flights(axes: Any, plan: Plan, shots: list[int], pen: _Names) -> None:
    """Dotted, with a disc where each begins."""
    for i in shots:
        path = plan.shots[i].scene.track.xyz_m[0, :, :2]
        axes.plot(*path.T, color="black", linewidth=3.4, linestyle=(0, (0.5, 0.9)), zorder=3.0,
                  dash_capstyle="butt")  # fmt: skip
        _disc(axes, path[0], letter(i), pen)


def _disc(axes: Any, xy_m: Array, name: str, pen: _Names) -> None:
    axes.plot(*xy_m, "o", color="black", markersize=12.0, markeredgecolor="white", zorder=5.0)
    x, y = (float(v) for v in xy_m)
    paper.write(axes, x, y, name, size=8.5, bold=True, ink="white", align="center",
                zorder=5.1)  # fmt: skip
    pen.block(xy_m)


def _ring(axes: Any, xy_m: Array) -> None:
    axes.plot(*xy_m, "o", color="white", markersize=14.0, markeredgecolor="black",
              markeredgewidth=2.2, zorder=6.0)  # fmt: skip
    axes.plot(*xy_m, "o", color="black", markersize=5.0, zorder=6.1)


def _calls(axes: Any, plan: Plan, shots: list[int], pen: _Names, caller: str = "") -> None:
    """Black flags of this person's calls, of everybody's where none is named, the foot where the
    rider is."""
    for i in shots:
        ride = plan.shots[i].scene.track.ride
        for call in last_calls(plan.shots[i], plan.marks):
            who = call.caller.person
            if call.first or (caller and (who is None or who.name != caller)):
                continue
            at = min(int(np.searchsorted(ride.t_s, call.mark_s)), len(ride.t_s) - 1)
            xy = ride.xyz_m[0, at, :2]
            axes.plot(*xy, "s", color="black", markersize=5.0, zorder=5.5)
            pen.put(xy, call.code(letter(i)), bold=True, always=True)


def _things(plan: Plan, view: Extent) -> Iterator[tuple[str, Array]]:
    """Names to find one's way by: places, then things with a name, then what marks are said by."""
    site = plan.outing.site
    named: list[tuple[str, Array]] = [
        ("launch" if p.id == "launch" else plain(p.label), p.xyz_m[:2])
        for p in site.places.values()
    ]
    named += [(plain(t.label), np.mean(t.where_m, axis=0)) for t in site.obstacles.things if t.name]
    for area in site.people:
        named += [(plain(area.name or area.id), part[len(part) // 2]) for part in area.parts[:1]]
    for name, xy in named:
        if view.holds((xy[None],)):
            yield name, xy


def _north(axes: Any, view: Extent) -> None:
    per = (view.east_m - view.west_m) / WIDE
    x, y = view.east_m - 16.0 * per, view.north_m - 14.0 * per
    tip = np.array([[0.0, 8.0], [5.0, -5.0], [0.0, -1.0], [-5.0, -5.0]]) * per + [x, y]
    axes.fill(*tip.T, color="black", zorder=8.0)
    halo(axes, x - 3.5 * per, y - 12.0 * per, "N", size=9.0, bold=True)
