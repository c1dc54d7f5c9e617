"""Draws what a watcher sees: the skyline, the aircraft's track across it, the sun, the scales."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from shotplan.kernels.light import GLARE_DEG
from shotplan.model.arrays import Array
from shotplan.model.skyline import Kind, nearest_turn, toward
from shotplan.output import look
from shotplan.output.lettering import SMALL, cut, wide
from shotplan.output.paper import write
from shotplan.output.watch_view import Looked
from shotplan.output.watched import Sight
from shotplan.output.words import plain

SKY = "#eef1ef"
COLOURS = {
    Kind.SKY: SKY,
    Kind.GROUND: "#cdc3a8",
    Kind.WATER: "#9fb9c9",
    Kind.TREE: "#6d8a69",
    Kind.WOOD: "#7f967a",
    Kind.BUILDING: "#857b72",
    Kind.POLE: "#4a4f55",
}
HAZE_M = 900.0  # what is so far looks about two thirds like the sky
STEP = 1.35  # ground behind ground that is so much farther has an edge
UNSURE_DEG = 2.0  # how high the hatching stands over ground that ends
HATCH = (0.45, 0.47, 0.48)
LANE = 12.0
LANES = 2
HIDDEN_M = 1.5  # a place so much behind what is seen there is hidden
LINES = {
    Sight.SEEN: (2.4, "solid"),
    Sight.UNKNOWN: (2.0, (0, (0.6, 1.6))),
    Sight.FAR: (1.4, (0, (4.0, 2.2))),
    Sight.HIDDEN: (1.4, (0, (1.6, 2.2))),
}


GAP_WORDS = {Sight.HIDDEN: "not seen", Sight.FAR: "too far", Sight.UNKNOWN: "?"}
LABEL = 64.0  # across the names of the fists up


class Frame(NamedTuple):
    """Where the panorama lies on the page, and its scale in pixels per radian."""

    left: float
    top: float
    right: float
    bottom: float
    west_rad: float
    high_rad: float
    per_rad: float

    def x(self, azimuth_rad: Any) -> Any:
        """Across the page."""
        return self.left + (azimuth_rad - self.west_rad) * self.per_rad

    def y(self, elevation_rad: Any) -> Any:
        """Down the page."""
        return self.top + (self.high_rad - elevation_rad) * self.per_rad


def frame_at(one: Looked, left: float, top: float, across: float) -> Frame:
    """The panorama `across` pixels wide, under its lanes of names."""
    azimuth, elevation = one.around.azimuth_rad, one.around.elevation_rad
    step = float(azimuth[1] - azimuth[0])
    per_rad = across / (step * len(azimuth))
    high = float(elevation[0]) + 0.5 * float(elevation[0] - elevation[1])
    deep = per_rad * float(elevation[0] - elevation[1]) * len(elevation)
    top += (LANES * LANE if any(_named(one)) else 0.0) + 4.0
    west = float(azimuth[0]) - 0.5 * step
    return Frame(left, top, left + across, top + deep, west, high, per_rad)


def draw(axes: Any, at: Frame, one: Looked) -> None:
    """The panorama with everything on it."""
    box = (at.left, at.right, at.bottom, at.top)
    axes.imshow(_image(one), extent=box, interpolation="nearest", aspect="auto", zorder=1.0)
    axes.plot(
        [at.left, at.right, at.right, at.left, at.left],
        [at.top, at.top, at.bottom, at.bottom, at.top], color=look.INK, linewidth=0.9, zorder=8.0,
    )  # fmt: skip
    for wire in one.around.wires:
        axes.plot(at.x(wire[:, 0]), at.y(wire[:, 1]), color="#0d1013", linewidth=1.0, zorder=2.0)
    _scales(axes, at, one)
    _sun(axes, at, one)
    _names(axes, at, one)
    _track(axes, at, one)


def _image(one: Looked) -> Array:
    """The skyline's colours `(e, a, 3)`: farther is paler, edges are dark, and where the known
    ground ends the sky over it is hatched."""
    from matplotlib.colors import to_rgb

    seen = one.around
    table = np.array([to_rgb(COLOURS[kind]) for kind in Kind])
    haze = 0.65 * (1.0 - np.exp(-seen.away_m / HAZE_M))[..., None]
    rgb = (1.0 - haze) * table[seen.kind] + haze * np.array(to_rgb(SKY))
    sky = seen.kind == Kind.SKY
    rgb[sky] = to_rgb(SKY)
    over = seen.elevation_rad[:, None] - seen.ground_rad
    rows, cols = np.indices(seen.kind.shape)
    unsure = sky & np.isfinite(seen.known_m) & (over < math.radians(UNSURE_DEG))
    rgb[unsure & ((rows + cols) % 7 < 2)] = HATCH
    edge = np.zeros_like(sky)
    for axis in (0, 1):
        one_side, other = (np.take(a, range(1, a.shape[axis]), axis) for a in (seen.thing, seen.kind))
        before = np.take(seen.thing, range(seen.thing.shape[axis] - 1), axis)
        kind = np.take(seen.kind, range(seen.kind.shape[axis] - 1), axis)
        far, near = (
            np.take(seen.away_m, range(k, seen.away_m.shape[axis] - 1 + k), axis) for k in (0, 1)
        )
        with np.errstate(invalid="ignore"):
            jump = (np.maximum(far, near) > STEP * np.minimum(far, near)) & (one_side < 0)
        change = (one_side != before) | (other != kind) | (jump & (before < 0))
        target = edge[:-1] if axis == 0 else edge[:, :-1]
        target |= change
    rgb[edge] = 0.45 * rgb[edge] + 0.55 * np.array(to_rgb(look.INK))
    return np.asarray(rgb)


def _scales(axes: Any, at: Frame, one: Looked) -> None:
    """Fists and fingers: up from the eye's level, left and right from where it begins."""
    degree = math.radians(1.0)
    fine = at.per_rad * degree >= 3.5
    axes.plot([at.left, at.right], [at.y(0.0)] * 2, color=look.INK, linewidth=0.7,
              linestyle=(0, (6, 4)), zorder=2.5)  # fmt: skip
    low = at.high_rad - (at.bottom - at.top) / at.per_rad
    x = at.x(one.azimuth_rad)
    at_right = (x < at.left + LABEL).sum() > (x > at.right - LABEL).sum()
    for d in range(math.ceil(math.degrees(low)), math.floor(math.degrees(at.high_rad)) + 1):
        if d % 10 and not fine:
            continue
        long = 9.0 if d % 10 == 0 else 5.0 if d % 5 == 0 else 2.5
        y = at.y(d * degree)
        for edge, way in ((at.left, 1.0), (at.right, -1.0)):
            axes.plot([edge, edge + way * long], [y, y], color=look.INK, linewidth=0.8, zorder=8.0)
        if d % 10 == 0 and at.top + 6.0 < y < at.bottom - 6.0:
            said = "eye level" if d == 0 else f"{abs(d) // 10} {'up' if d > 0 else 'down'}"
            edge, side = (at.right - 11.0, "right") if at_right else (at.left + 11.0, "left")
            write(axes, edge, y, said, size=8.0, align=side, box=SKY, zorder=5.0)
    first = math.ceil(math.degrees(at.west_rad - one.zero_rad))
    last = math.floor(math.degrees(at.west_rad - one.zero_rad + (at.right - at.left) / at.per_rad))
    apart = 10 * max(1, math.ceil(44.0 / (at.per_rad * 10.0 * degree)))
    for d in range(first, last + 1):
        if d % 10 and not fine:
            continue
        long = 8.0 if d % 10 == 0 else 4.0 if d % 5 == 0 else 2.0
        across = at.x(one.zero_rad + d * degree)
        axes.plot([across] * 2, [at.bottom, at.bottom + long], color=look.INK, linewidth=0.8)
        if d % apart == 0 and at.left + 12.0 < across < at.right - 12.0:
            said = "0" if d == 0 else f"{abs(d) // 10} {'left' if d < 0 else 'right'}"
            write(axes, across, at.bottom + 14.0, said, size=8.0, align="center", bold=d == 0)
    axes.plot([at.x(one.zero_rad)] * 2, [at.top, at.bottom], color=look.INK, linewidth=0.6,
              linestyle=(0, (2, 4)), zorder=2.5)  # fmt: skip


def _sun(axes: Any, at: Frame, one: Looked) -> None:
    """Its disc, and the ring within which one is dazzled where the track comes into it."""
    if not one.sun.shines:
        return
    middle = float(one.around.azimuth_rad.mean())
    azimuth = float(nearest_turn(np.array([one.sun.azimuth_rad]), middle)[0])
    x, y = at.x(azimuth), at.y(one.sun.elevation_rad)
    if one.sun.dazzles.any():
        ring = _ring(azimuth, one.sun.elevation_rad, math.radians(GLARE_DEG))
        xs, ys = at.x(ring[:, 0]), at.y(ring[:, 1])
        out = (xs < at.left) | (xs > at.right) | (ys < at.top) | (ys > at.bottom)
        xs[out] = np.nan
        axes.plot(xs, ys, color="#8a5a00", linewidth=1.6, linestyle=(0, (5, 3)), zorder=3.0)
    if at.left < x < at.right and at.top < y < at.bottom:
        axes.plot([x], [y], "o", color="#f0b429", markersize=11.0, markeredgecolor=look.INK,
                  markeredgewidth=1.2, zorder=3.2)  # fmt: skip
        side = -1.0 if x > at.right - 40.0 else 1.0
        write(axes, x + 9.0 * side, y, "sun", size=8.5, bold=True, zorder=5.0,
              align="left" if side > 0 else "right")  # fmt: skip


def _ring(azimuth: float, elevation: float, radius: float) -> Array:
    """`(k, 2)` azimuth and elevation of a circle on the sky."""
    turn = np.linspace(0.0, 2.0 * np.pi, 361)
    sine = math.sin(elevation) * math.cos(radius) + math.cos(elevation) * math.sin(
        radius
    ) * np.cos(turn)
    up = np.arcsin(np.clip(sine, -1.0, 1.0))
    off = np.arctan2(
        np.sin(turn) * math.sin(radius) * math.cos(elevation),
        math.cos(radius) - math.sin(elevation) * sine,
    )
    return np.column_stack([azimuth + off, up])


class _Name(NamedTuple):
    """Something to find in the landscape: a name, where it is, how much it is worth."""

    text: str
    azimuth_rad: float
    elevation_rad: float
    worth: float
    point: bool


def _names(axes: Any, at: Frame, one: Looked) -> None:
    """In lanes over the picture, what is worth most first, each with a line down to it."""
    taken: list[tuple[int, float, float, float]] = []
    for name in sorted(_named(one), key=lambda n: (-n.worth, n.text)):
        text = cut(name.text, 0.36 * (at.right - at.left), size=SMALL)
        x, y = at.x(name.azimuth_rad), at.y(name.elevation_rad)
        long = wide(text, SMALL)
        left = min(max(x - long / 2.0, at.left), at.right - long)
        for lane in range(LANES - 1, -1, -1):
            spot = at.top - (LANES - lane - 0.5) * LANE - 2.0
            if not text or any(not _apart(lane, left, left + long, x, *other) for other in taken):
                continue
            taken.append((lane, left, left + long, x))
            write(axes, left, spot, text, size=SMALL)
            axes.plot([x, x], [spot + 6.0, y], color=look.INK, linewidth=0.6, zorder=2.6)
            if name.point:
                axes.plot([x], [y], "D", color="white", markersize=5.0, zorder=2.8,
                          markeredgecolor=look.INK, markeredgewidth=1.0)  # fmt: skip
            break


def _apart(
    lane: int, left: float, right: float, x: float,
    its_lane: int, its_left: float, its_right: float, its_x: float,
) -> bool:  # fmt: skip
    if lane == its_lane:
        return right + 6.0 < its_left or its_right + 6.0 < left
    low, high, falls = (left, right, its_x) if lane > its_lane else (its_left, its_right, x)
    return not low - 3.0 <= falls <= high + 3.0


def _named(one: Looked) -> Iterator[_Name]:
    """Things with a name that are seen, then other woods and buildings; places and who stands
    there."""
    seen, site = one.around, one.shot.scene.site
    for k in np.unique(seen.thing[seen.thing >= 0]).tolist():
        thing = site.obstacles.things[k]
        mine = seen.thing == k
        known = thing.name or not any(c.isdigit() for c in thing.id)
        if not known and thing.role not in ("wood", "building"):
            continue
        col = int(np.round(np.median(np.nonzero(mine)[1])))
        col = col if mine[:, col].any() else int(np.argmax(mine.any(axis=0)))
        row = int(np.argmax(mine[:, col]))
        worth = math.sqrt(float(mine.sum())) + (40.0 if thing.name else 0.0)
        text = plain(thing.label) if known else thing.role
        yield _Name(text, float(seen.azimuth_rad[col]), float(seen.elevation_rad[row]), worth, False)
    for place in site.places.values():
        if not np.isfinite(place.xyz_m).all() or plain(place.label) == one.place:
            continue
        azimuth, elevation = (float(v) for v in toward(seen.eye_m, place.xyz_m))
        azimuth = float(nearest_turn(np.array([azimuth]), float(seen.azimuth_rad.mean()))[0])
        a = int(np.searchsorted(seen.azimuth_rad, azimuth))
        e = int(np.searchsorted(-seen.elevation_rad, -elevation))
        level = float(np.hypot(*(place.xyz_m - seen.eye_m)[:2]))
        if not (0 < a < len(seen.azimuth_rad) and 0 < e < len(seen.elevation_rad)) or level < 1.0:
            continue
        if seen.away_m[max(e - 2, 0), a] < level - HIDDEN_M and seen.kind[e - 1, a] > Kind.WATER:
            continue
        there = [p.name for p in one.shot.scene.day.crew
                 if p != one.person and one.shot.scene.stand_of(p) == place]  # fmt: skip
        who = f" ({', '.join(plain(n) for n in there)})" if there else ""
        yield _Name(f"{plain(place.label)}{who}", azimuth, elevation, 60.0, True)


def _track(axes: Any, at: Frame, one: Looked) -> None:
    """The aircraft's way, broken where it is not seen; the ticks with their seconds."""
    x, y = at.x(one.azimuth_rad), at.y(one.elevation_rad)
    t = one.shot.scene.track.ride.t_s
    for width, colour in ((5.0, "white"), (0.0, look.INK)):
        for sight, (pen, dash) in LINES.items():
            on = one.seen.sight == sight
            joined = on | np.concatenate([[False], on[:-1]])
            axes.plot(
                np.where(joined, x, np.nan), np.where(joined, y, np.nan), color=colour, zorder=6.0,
                linewidth=width or pen, linestyle="solid" if width else dash,
                dash_capstyle="butt", alpha=0.8 if width else 1.0,
            )  # fmt: skip
    _arrows(axes, at, one)
    spots: list[tuple[float, float]] = []
    for i in one.ticks:
        here = (float(np.nan_to_num(x[i], nan=at.left)), float(y[i]))
        axes.plot([here[0]], [here[1]], "o", color="white", markersize=5.6, zorder=7.0,
                  markeredgecolor=look.INK, markeredgewidth=1.4)  # fmt: skip
        if any(abs(here[0] - a) < 24.0 and abs(here[1] - b) < 20.0 for a, b in spots):
            continue
        spots.append(here)
        over = here[1] - 12.0 > at.top + 4.0
        side = min(max(here[0], at.left + 14.0), at.right - 14.0)
        write(axes, side, here[1] + (-12.0 if over else 12.0), f"{round(float(t[i]))} s", size=8.5,
              bold=True, align="center", box=SKY, zorder=7.5)  # fmt: skip
    for gap in one.gaps:
        middle = (gap.low + gap.high) // 2
        if np.isfinite(x[middle]) and gap.high - gap.low >= 5:
            mark = GAP_WORDS[gap.sight]
            spot = min(max(float(x[middle]), at.left + 34.0), at.right - 34.0)
            under = float(y[middle]) + 12.0
            write(axes, spot, min(under, at.bottom - 7.0), f"{gap.seconds:.1f} s {mark}", size=8.0,
                  align="center", box="white", zorder=7.2)  # fmt: skip


def _arrows(axes: Any, at: Frame, one: Looked) -> None:
    """Which way it flies, half-way between ticks."""
    x, y = at.x(one.azimuth_rad), at.y(one.elevation_rad)
    for low, high in zip(one.ticks[:-1], one.ticks[1:], strict=True):
        i = (low + high) // 2
        ahead = min(i + 5, len(x) - 1)
        way = np.array([x[ahead] - x[i], y[ahead] - y[i]])
        if not np.isfinite(way).all() or np.hypot(x[high] - x[low], y[high] - y[low]) < 26.0:
            continue
        if (length := float(np.hypot(*way))) > 0.3:
            tip = np.array([x[i], y[i]]) + 5.0 * way / length
            back = np.array([x[i], y[i]]) - 4.0 * way / length
            across = 4.2 * np.array([-way[1], way[0]]) / length
            axes.fill(*np.array([tip, back + across, back - across]).T, color=look.INK,
                      zorder=6.8, linewidth=0.0)  # fmt: skip
