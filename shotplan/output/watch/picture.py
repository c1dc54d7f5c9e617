"""Draws what a watcher sees: the skyline, the aircraft's track across it, the sun, the scales."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shotplan.aids.skyline import Kind, nearest_turn
from shotplan.kernels.light.light import GLARE_DEG
from shotplan.model.arrays import Array, Bools
from shotplan.output import look
from shotplan.output.paper import write
from shotplan.output.watch.names import Frame, draw_names
from shotplan.output.watch.view import Looked
from shotplan.output.watch.watched import Sight

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
LINES = {
    Sight.SEEN: (2.4, "solid"),
    Sight.UNKNOWN: (2.0, (0, (0.6, 1.6))),
    Sight.FAR: (1.4, (0, (4.0, 2.2))),
    Sight.HIDDEN: (1.4, (0, (1.6, 2.2))),
}


GAP_WORDS = {Sight.HIDDEN: "not seen", Sight.FAR: "too far", Sight.UNKNOWN: "?"}
LABEL = 64.0  # across the names of the fists up


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
    draw_names(axes, at, one)
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
    edge = _edges(seen.thing, seen.kind, seen.away_m)
    rgb[edge] = 0.45 * rgb[edge] + 0.55 * np.array(to_rgb(look.INK))
    return np.asarray(rgb)


def _edges(thing: NDArray[np.intp], kind: NDArray[np.int8], away_m: Array) -> Bools:
    """Pixels whose neighbour to the right or below is another thing, or much farther ground."""
    edge = np.zeros(kind.shape, dtype=bool)
    for rows, cols in ((1, 0), (0, 1)):
        here = (slice(0, kind.shape[0] - rows), slice(0, kind.shape[1] - cols))
        next_ = (slice(rows, None), slice(cols, None))
        near, far = away_m[here], away_m[next_]
        jump = (thing[here] < 0) & (np.maximum(near, far) > STEP * np.minimum(near, far))
        edge[here] |= (thing[here] != thing[next_]) | (kind[here] != kind[next_]) | jump
    return edge


def _scales(axes: Any, at: Frame, one: Looked) -> None:
    """Fists and fingers: up from the eye's level, left and right from where it begins."""
    for line, ends in (((at.left, at.right), at.y(0.0)), (at.x(one.zero_rad), (at.top, at.bottom))):
        x, y = np.broadcast_arrays(line, ends)
        dash = (0, (6, 4)) if x[0] < x[1] else (0, (2, 4))
        axes.plot(x, y, color=look.INK, linewidth=0.7, linestyle=dash, zorder=2.5)
    _fists_up(axes, at, one)
    _fists_across(axes, at, one)


def _degrees(at: Frame, low_rad: float, high_rad: float) -> tuple[Array, Array]:
    """Whole degrees between two angles (fists alone where fingers have no room), and how long the
    tick of each is."""
    step = 1 if at.per_rad * math.radians(1.0) >= 3.5 else 10
    first = math.ceil(math.degrees(low_rad) / step) * step
    found = np.arange(first, math.degrees(high_rad) + 1e-9, step)
    return found, np.where(found % 10 == 0, 8.0, np.where(found % 5 == 0, 4.5, 2.2))


def _fists_up(axes: Any, at: Frame, one: Looked) -> None:
    low = at.high_rad - (at.bottom - at.top) / at.per_rad
    degrees, long = _degrees(at, low, at.high_rad)
    y = at.y(np.radians(degrees))
    for edge, way in ((at.left, 1.0), (at.right, -1.0)):
        axes.hlines(y, edge, edge + way * long, color=look.INK, linewidth=0.8, zorder=8.0)
    x = at.x(one.azimuth_rad)
    at_right = bool((x < at.left + LABEL).sum() > (x > at.right - LABEL).sum())
    edge, side = (at.right - 11.0, "right") if at_right else (at.left + 11.0, "left")
    for d, here in zip(degrees.astype(int).tolist(), y.tolist(), strict=True):
        if d % 10 or not at.top + 6.0 < here < at.bottom - 6.0:
            continue
        if d and _near_track(one, at, here, at_right=at_right):
            continue
        said = "eye level" if d == 0 else f"{abs(d) // 10} {'up' if d > 0 else 'down'}"
        write(axes, edge, here, said, size=8.0, align=side, box=SKY, zorder=5.0)


def _fists_across(axes: Any, at: Frame, one: Looked) -> None:
    low = at.west_rad - one.zero_rad
    degrees, long = _degrees(at, low, low + (at.right - at.left) / at.per_rad)
    x = at.x(one.zero_rad + np.radians(degrees))
    axes.vlines(x, at.bottom, at.bottom + long, color=look.INK, linewidth=0.8)
    apart = 10 * max(1, math.ceil(44.0 / (at.per_rad * math.radians(10.0))))
    for d, here in zip(degrees.astype(int).tolist(), x.tolist(), strict=True):
        if d % apart == 0 and at.left + 12.0 < here < at.right - 12.0:
            said = "0" if d == 0 else f"{abs(d) // 10} {'left' if d < 0 else 'right'}"
            write(axes, here, at.bottom + 14.0, said, size=8.0, align="center", bold=d == 0)


def _near_track(one: Looked, at: Frame, y: float, *, at_right: bool) -> bool:
    """Whether the track, or a second on it, comes where the fists are named."""
    x, up = at.x(one.azimuth_rad), at.y(one.elevation_rad)
    beside = x > at.right - LABEL if at_right else x < at.left + LABEL
    return bool((beside & (up > y - 6.0) & (up < y + 20.0)).any())


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
        over = -12.0 if y > at.top + 20.0 else 12.0
        write(axes, x, y + over, "sun", size=8.5, bold=True, align="center", zorder=7.0)


def _ring(azimuth: float, elevation: float, radius: float) -> Array:
    """`(k, 2)` azimuth and elevation of a circle on the sky."""
    turn = np.linspace(0.0, 2.0 * np.pi, 361)
    sine = math.sin(elevation) * math.cos(radius) + math.cos(elevation) * math.sin(radius) * np.cos(
        turn
    )
    up = np.arcsin(np.clip(sine, -1.0, 1.0))
    off = np.arctan2(
        np.sin(turn) * math.sin(radius) * math.cos(elevation),
        math.cos(radius) - math.sin(elevation) * sine,
    )
    return np.column_stack([azimuth + off, up])


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
    told: list[tuple[float, float]] = []  # labels of gaps; all gaps are told below the picture
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
    for gap in sorted(one.gaps, key=lambda g: (-g.seconds, g.low)):
        middle = (gap.low + gap.high) // 2
        if not np.isfinite(x[middle]):
            continue
        spot = min(max(float(x[middle]), at.left + 34.0), at.right - 34.0)
        under = min(float(y[middle]) + 12.0, at.bottom - 7.0)
        if any(abs(spot - a) < 60.0 and abs(under - b) < 13.0 for a, b in told):
            continue
        told.append((spot, under))
        write(
            axes, spot, under, f"{gap.seconds:.1f} s {GAP_WORDS[gap.sight]}", size=8.0,
            align="center", box="white", zorder=7.2,
        )  # fmt: skip


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
