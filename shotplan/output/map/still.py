"""The map as one plain picture, for where no script runs: no name from a file is written in it."""

from __future__ import annotations

from typing import Any

import numpy as np

from shotplan.output import look, paper
from shotplan.output.look import DPI, WIDTH_PX
from shotplan.output.map import compass, ground, tags
from shotplan.output.map.shapes import Extent, Shape, Sheet

CREDIT_PT, CREDIT_ROOM = 6.5, 190.0


def png(
    relief: ground.Relief,
    sheets: tuple[Sheet, ...],
    view: Extent,
    wind: str = "",
    from_deg: float | None = None,
    speed_m_s: float = 0.0,
    *,
    credited: str = "",
) -> bytes:
    """A PNG of the sheets that are on, the wind, and who is `credited`; the same sheets give the
    same bytes."""
    figure = paper.figure(WIDTH_PX / DPI, high_in(view), paper="white")
    axes = paper.bare(figure)
    backdrop(axes, relief, view)
    sheets = tuple(sheet for sheet in sheets if sheet.on)
    for sheet in sheets:
        for shape in sheet.shapes:
            draw(axes, shape)
    _tags(axes, sheets, view)
    scale_bar(axes, view)
    wind_barb(axes, view, wind, from_deg, speed_m_s)
    credit_line(axes, view, credited)
    return paper.png(figure)


def high_in(view: Extent) -> float:
    """Inches of a map as wide as the page."""
    return WIDTH_PX / DPI * (view.north_m - view.south_m) / (view.east_m - view.west_m)


def backdrop(axes: Any, relief: ground.Relief, view: Extent) -> None:
    """The relief, and from then on frame metres."""
    box = (view.west_m, view.east_m, view.south_m, view.north_m)
    axes.imshow(ground.rgb(relief), extent=box, interpolation="bilinear", aspect="auto")
    axes.set_xlim(view.west_m, view.east_m)
    axes.set_ylim(view.south_m, view.north_m)


def draw(axes: Any, shape: Shape, zorder: float | None = None) -> None:
    """A shape in its look; the tags of marks come later. `zorder` for what lies on other things."""
    if shape.look == "touch":
        return
    if shape.kind == "mark":
        _mark(axes, shape, zorder)
        return
    style = look.LOOKS[shape.look]
    dash = tuple(length / style.width for length in style.dash)
    pen: dict[str, Any] = {
        "linewidth": style.width * 0.8,
        "linestyle": (0, dash) if dash else "solid",
    }
    if zorder is not None:
        pen["zorder"] = zorder
    if shape.kind == "line":
        cap = "butt" if style.square else "round"
        ends = {"dash_capstyle": cap, "solid_capstyle": cap}
        axes.plot(*shape.parts[0].T, color=style.line, **ends, **pen)
        return
    axes.add_patch(_patch(shape, facecolor=_fill(style), edgecolor=style.line, **pen))


def _fill(style: look.Look) -> Any:
    from matplotlib.colors import to_rgba

    return to_rgba(style.fill, style.density) if style.fill else "none"


def _patch(shape: Shape, **pen: Any) -> Any:
    from matplotlib.patches import Circle, PathPatch
    from matplotlib.path import Path as Outline

    if shape.kind == "circle":
        x, y = shape.parts[0][0]
        return Circle((float(x), float(y)), shape.radius_m, **pen)
    rings = [Outline(np.concatenate([r, r[:1]]), closed=True) for r in shape.parts]
    return PathPatch(Outline.make_compound_path(*rings), **pen)


def _mark(axes: Any, shape: Shape, zorder: float | None = None) -> None:
    """What is in the line or at a place; its tag comes later."""
    x, y = (float(v) for v in shape.parts[0][0])
    if shape.look == "elevation":
        _tag(axes, shape, (0.0, 0.0))
    elif shape.look == "cross":
        axes.plot([x], [y], marker="x", color="white", markersize=5, markeredgewidth=1.5,
                  zorder=2.0 if zorder is None else zorder)  # fmt: skip
    elif shape.look in tags.PLACES:
        fill, rim = ("white", look.INK) if shape.look == "stand" else (look.INK, "white")
        axes.plot([x], [y], marker="D", color=fill, markersize=7 if shape.look != "place" else 5,
                  markeredgecolor=rim, markeredgewidth=1.2)  # fmt: skip


def _tags(axes: Any, sheets: tuple[Sheet, ...], view: Extent) -> None:
    """All tags, moved apart, what matters most on top."""
    for shape, move in tags.placed(sheets, view):
        _tag(axes, shape, move)


def _tag(axes: Any, shape: Shape, move_pt: tuple[float, float]) -> None:
    dark, boxed = shape.look in tags.DARK, tags.boxed(shape)
    sign = tags.SIGNS.get(shape.look)
    face = look.INK if dark else "white" if boxed else (1.0, 1.0, 1.0, 0.75)
    style = "circle,pad=0.25" if shape.look == "start" else "round,pad=0.25"
    paper.beside(
        axes, shape.parts[0][0], move_pt, f"{sign} {shape.tag}" if sign else shape.tag,
        size=tags.size_pt(shape), bold=boxed, ink="white" if dark else tags.ink(shape),
        ha="center", va="center", annotation_clip=True,
        bbox={"boxstyle": style, "linewidth": 1.5 if boxed else 0.0, "edgecolor": tags.rim(shape),
              "facecolor": face},
        arrowprops={"arrowstyle": "-", "color": look.INK} if tags.led(shape) else None,
    )  # fmt: skip


def wind_barb(axes: Any, view: Extent, says: str, from_deg: float | None, speed_m_s: float) -> None:
    """Upper left: the wind as a barb, and in words."""
    wide = view.east_m - view.west_m
    middle = np.array([view.west_m + 0.06 * wide, view.north_m - 0.05 * wide])
    if from_deg is not None:
        unit = np.array([1.0, -1.0]) * 0.002 * wide
        for stroke in compass.strokes(from_deg, speed_m_s):
            line = middle + np.array(stroke) * unit
            axes.plot(*line.T, color=look.INK, linewidth=1.8, solid_capstyle="round", zorder=8.0)
        at = middle + np.array(compass.ring(from_deg)) * unit
        axes.plot(*at, "o", color="white", markeredgecolor=look.INK, markersize=4.5,
                  markeredgewidth=1.5, zorder=8.1)  # fmt: skip
    paper.beside(axes, middle, (0.06 * WIDTH_PX * 72.0 / DPI, 0.0), says, size=8.0, va="center")


def credit_line(axes: Any, view: Extent, credited: str) -> None:
    """Lower right, small: whose data it is; "" nobody's."""
    lines = paper.wrapped(credited, CREDIT_ROOM, size=CREDIT_PT, lines=4)
    for k, text in enumerate(reversed(lines)):
        paper.beside(
            axes, (view.east_m, view.south_m), (-3.0, 3.0 + 1.3 * CREDIT_PT * k), text,
            size=CREDIT_PT, ha="right", va="bottom", zorder=6,
            bbox={"boxstyle": "square,pad=0.15", "linewidth": 0.0, "facecolor": "white",
                  "alpha": 0.85},
        )  # fmt: skip


def scale_bar(axes: Any, view: Extent) -> None:
    """Lower left: a length, and where north is."""
    wide, high = view.east_m - view.west_m, view.north_m - view.south_m
    length, feet = tags.bars(view)
    x, y = view.west_m + 0.04 * wide, view.south_m + 0.045 * high
    axes.plot([x, x + length.long_m], [y, y], color=look.INK, linewidth=3.0, solid_capstyle="butt")
    axes.plot([x + feet.long_m], [y], marker=3, color=look.INK, markersize=6)
    paper.beside(axes, (x, y), (0.0, 4.0), f"{length.says}, north is up", size=8.0)
    paper.beside(axes, (x, y), (0.0, -10.0), feet.says, size=7.0)
