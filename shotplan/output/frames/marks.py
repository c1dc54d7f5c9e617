"""What is drawn over a frame: how high the rider stands in it, which way he rides, the sun, the
ground that is not known."""

from __future__ import annotations

from typing import Any

import numpy as np

from shotplan.aids.frame_setting import Kind
from shotplan.aids.frame_view import Frame
from shotplan.kernels.light import view_march
from shotplan.output import look
from shotplan.output.lettering import cut, wide
from shotplan.output.paper import write

# In points, which are pixels of a phone's page.
CLEAR = 5.0  # of the arrow from the rider's feet
SHAFT = ((0.0, -1.2), (14.0, -1.2), (14.0, -4.2), (22.0, 0.0), (14.0, 4.2), (14.0, 1.2), (0.0, 1.2))
"""The arrow: how far along and how far aside."""
ROOM = 40.0  # of the bracket and its number
RIM = 10.0  # of the sun's mark from the frame's edge
DISC = 5.0
SUN_FILL = "#ffd23c"
UNKNOWN_FROM = 0.10  # of the frame; smaller parts are hatched without a word
UNKNOWN = "not known"
RING = 11.0
NEAREST_M = 1.0  # nothing nearer ahead is ringed


def mark(
    axes: Any, frame: Frame, corner: tuple[float, float], scale: float,
    about: tuple[tuple[Any, str], ...] = (),
) -> None:  # fmt: skip
    """All marks of a frame whose upper left corner is at `corner`, so many points to a pixel;
    `about` points with names that are ringed."""
    origin = np.array(corner)
    _unknown(axes, frame, origin, scale)
    for point, name in about:
        _ring(axes, frame, origin, scale, point, name)
    _sun(axes, frame, origin, scale)
    _rider(axes, frame, origin, scale)


def _pen(width: float) -> list[Any]:
    """A dark rim, so that white shows on anything."""
    from matplotlib.patheffects import Normal, Stroke

    return [Stroke(linewidth=width + 2.0, foreground=look.INK), Normal()]


def _word(
    axes: Any, at: Any, text: str, *, size: float = 8.5, align: str = "center", ink: str = "white"
) -> None:
    effects: dict[str, Any] = {"path_effects": _pen(0.6)} if ink == "white" else {}
    write(axes, float(at[0]), float(at[1]), text, size=size, bold=True, ink=ink, align=align,
          zorder=6.0, **effects)  # fmt: skip


def _rider(axes: Any, frame: Frame, origin: Any, scale: float) -> None:
    """A bracket beside him with his share of the frame's height, an arrow where he goes."""
    rider = frame.rider
    left, top, right, low = (v * scale for v in rider.box)
    wide, high = frame.view.cols * scale, frame.view.rows * scale
    if not (right > 0.0 and left < wide and low > 0.0 and top < high):
        return
    on_left = _on_left(frame, scale)
    side, lip = (left - 4.0, 3.0) if on_left else (right + 4.0, -3.0)
    top_in, low_in = max(top, 1.0), min(low, high - 1.0)
    x = np.array([side + lip, side, side, side + lip]) + origin[0]
    y = np.array([top_in, top_in, low_in, low_in]) + origin[1]
    dash = (0, (2, 2)) if rider.seen < 0.5 else "solid"
    axes.plot(x, y, color="white", linewidth=1.3, linestyle=dash, path_effects=_pen(1.3),
              zorder=5.0, solid_capstyle="butt")  # fmt: skip
    beside = side + (-3.0 if on_left else 3.0)
    height = min(max(0.5 * (top_in + low_in), 7.0), high - 7.0)
    _word(axes, origin + np.array([beside, height]), share_text(rider.share),
          align="right" if on_left else "left")  # fmt: skip
    _heads(axes, frame, origin, scale)


def _on_left(frame: Frame, scale: float) -> bool:
    """Whether the bracket stands to his left: behind him, if there is room."""
    left, _, right, _ = (v * scale for v in frame.rider.box)
    wide = frame.view.cols * scale
    return (frame.rider.heads[0] > 0.0 and left > ROOM) or right > wide - ROOM


def share_text(share: float) -> str:
    """`12 %`, with a decimal below 5."""
    return f"{100.0 * share:.0f} %" if share >= 0.05 else f"{100.0 * share:.1f} %"


def _heads(axes: Any, frame: Frame, origin: Any, scale: float) -> None:
    left, _, right, low = (v * scale for v in frame.rider.box)
    way = np.array(frame.rider.heads)
    size = float(np.hypot(*way))
    if size < 1e-6:
        return
    way /= size
    foot = np.array([0.5 * (left + right), low])
    half = 0.5 * (right - left)
    start = foot + way * (CLEAR + abs(way[0]) * half)
    if way[1] < -0.6:  # away: beside him, or he would be crossed out
        beside = half + 7.0
        start = foot + np.array([beside if _on_left(frame, scale) else -beside, -1.0])
    aside = np.array([-way[1], way[0]])
    outline = np.array([start + along * way + off * aside for along, off in SHAFT])
    whole = np.array([frame.view.cols, frame.view.rows]) * scale
    outline += np.maximum(3.0 - outline.min(axis=0), 0.0)
    outline -= np.maximum(outline.max(axis=0) - (whole - 3.0), 0.0)
    axes.fill(*(outline + origin).T, facecolor="white", edgecolor=look.INK,
              linewidth=1.1, zorder=4.0, joinstyle="miter")  # fmt: skip


def _sun_at(frame: Frame, scale: float) -> Any:
    """Where its mark is, and the way outward it points (None: the sun itself is there)."""
    sun = frame.sun
    size = np.array([frame.view.cols, frame.view.rows]) * scale
    at = np.array(sun.at) * scale
    if np.isfinite(at).all() and (at > 0.0).all() and (at < size).all():
        return at, None
    way = at - 0.5 * size if np.isfinite(at).all() else np.array(sun.toward)
    way = way / max(float(np.hypot(*way)), 1e-9)
    half = 0.5 * size - RIM
    reach = min(h / max(abs(float(w)), 1e-9) for h, w in zip(half, way, strict=True))
    return 0.5 * size + reach * way, way


def _sun(axes: Any, frame: Frame, origin: Any, scale: float) -> None:
    """A disc where it is; at the edge, with a tip outward, where that is not in the frame."""
    sun = frame.sun
    if not sun.up:
        return
    size = np.array([frame.view.cols, frame.view.rows]) * scale
    at, way = _sun_at(frame, scale)
    if way is None:
        _disc(axes, at + origin, SUN_FILL if sun.free else "none", dashed=not sun.free)
        if not sun.free:
            _word(axes, at + origin + [0.0, 12.0], "sun, hidden", size=7.5)
        return
    _disc(axes, at + origin, SUN_FILL if sun.ahead else "white", dashed=False)
    aside = np.array([-way[1], way[0]])
    tip = [at + way * 9.0, at + way * 5.6 + aside * 4.0, at + way * 5.6 - aside * 4.0]
    axes.fill(*(np.array(tip) + origin).T, color=look.INK, zorder=5.0, linewidth=0.0)
    inward = np.clip(at - way * np.array([18.0, 13.0]), [14.0, 7.0], size - [14.0, 7.0])
    _word(axes, inward + origin, "sun", size=7.5)


def _disc(axes: Any, at: Any, fill: str, *, dashed: bool) -> None:
    from matplotlib.patches import Circle

    dash = (0, (1.5, 1.5)) if dashed else "solid"
    axes.add_patch(Circle(tuple(at), DISC, facecolor=fill, edgecolor=look.INK, linewidth=1.3,
                          linestyle=dash, zorder=5.0))  # fmt: skip
    if fill == "white":  # hollow: behind the camera
        axes.add_patch(Circle(tuple(at), DISC - 2.2, facecolor="none", edgecolor=look.INK,
                              linewidth=0.8, zorder=5.1))  # fmt: skip


def _ring(
    axes: Any, frame: Frame, origin: Any, scale: float, point: Any, name: str
) -> None:  # fmt: skip
    """A ring round a place, with its name, where it is in the picture."""
    from matplotlib.patches import Circle

    col, row, ahead = view_march.placed(frame.view, np.array(point, dtype=float)[None])
    at = np.array([float(col[0]), float(row[0])]) * scale
    size = np.array([frame.view.cols, frame.view.rows]) * scale
    if not (ahead[0] > NEAREST_M and (at > RING).all() and (at < size - RING).all()):
        return
    axes.add_patch(Circle(tuple(at + origin), RING, facecolor="none", edgecolor="white",
                          linewidth=1.8, zorder=5.5, path_effects=_pen(1.8)))  # fmt: skip
    under = at[1] + RING + 7.0 < size[1] - 4.0
    said = cut(name, size[0] - 12.0, size=8.5, bold=True)
    half = 0.5 * wide(said, 8.5, bold=True) + 4.0
    middle = min(max(at[0], half), size[0] - half)
    below = at[1] + (RING + 7.0 if under else -RING - 7.0)
    _word(axes, origin + np.array([middle, below]), said)


def _unknown(axes: Any, frame: Frame, origin: Any, scale: float) -> None:
    """`not known` within what is, as near to the middle as it has room; else only the hatching."""
    unknown = frame.kind == Kind.UNKNOWN
    if unknown.mean() < UNKNOWN_FROM:
        return
    half = np.ceil(np.array([0.5 * wide(UNKNOWN, 9.0, bold=True) + 3.0, 8.0]) / scale).astype(int)
    rows, cols = unknown.shape
    total = np.pad(np.cumsum(np.cumsum(~unknown, axis=0), axis=1), ((1, 0), (1, 0)))
    row, col = np.meshgrid(
        np.arange(half[1], rows - half[1]), np.arange(half[0], cols - half[0]), indexing="ij"
    )
    up, low, left, right = row - half[1], row + half[1], col - half[0], col + half[0]
    known = total[low, right] - total[up, right] - total[low, left] + total[up, left]
    off = np.hypot((col - 0.5 * cols) / cols, (row - 0.5 * rows) / rows)
    if frame.sun.up:
        away = np.abs(np.stack([col, row], axis=-1) * scale - _sun_at(frame, scale)[0])
        off = np.where((away[..., 0] < 70.0) & (away[..., 1] < 26.0), np.inf, off)
    off = np.where(known > 0, np.inf, off)
    if off.size and np.isfinite(off.min()):
        at = np.unravel_index(int(off.argmin()), off.shape)
        middle = np.array([col[at], row[at]]) * scale
        _word(axes, origin + middle, UNKNOWN, size=9.0, ink="#4a4a48")
