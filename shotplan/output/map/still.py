"""The map as one plain picture, for where no script runs: no name from a file is written in it."""

from __future__ import annotations

from typing import Any

import numpy as np

from shotplan.output import look, paper
from shotplan.output.look import DPI, WIDTH_PX
from shotplan.output.map import ground, tags
from shotplan.output.map.shapes import Extent, Shape, Sheet

CREDIT_PT, CREDIT_ROOM = 6.5, 190.0


def png(
    relief: ground.Relief,
    sheets: tuple[Sheet, ...],
    view: Extent,
    wind: str = "",
    blows_to_deg: float | None = None,
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
    wind_arrow(axes, view, wind, blows_to_deg)
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


def draw(axes: Any, shape: Shape) -> None:
    """A shape in its look; the tags of marks come later."""
    if shape.look == "touch":
        return
    if shape.kind == "mark":
        _mark(axes, shape)
        return
    style = look.LOOKS[shape.look]
    dash = tuple(length / style.width for length in style.dash)
    pen = {
        "linewidth": style.width * 0.8,
        "linestyle": (0, dash) if dash else "solid",
    }
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


def _mark(axes: Any, shape: Shape) -> None:
    """What is in the line or at a place; its tag comes later."""
    x, y = (float(v) for v in shape.parts[0][0])
    if shape.look == "elevation":
        _tag(axes, shape, (0.0, 0.0))
    elif shape.look == "cross":
        axes.plot([x], [y], marker="x", color="white", markersize=5, markeredgewidth=1.5)
    elif shape.look in tags.PLACES:
        fill, rim = ("white", look.INK) if shape.look == "stand" else (look.INK, "white")
        axes.plot([x], [y], marker="D", color=fill, markersize=7 if shape.look != "place" else 5,
                  markeredgecolor=rim, markeredgewidth=1.2)  # fmt: skip


def _tags(axes: Any, sheets: tuple[Sheet, ...], view: Extent) -> None:
    """All tags, moved apart, what matters most on top."""
    for shape, move in tags.placed(sheets, view):
        _tag(axes, shape, move)


def _tag(axes: Any, shape: Shape, move_pt: tuple[float, float]) -> None:
    boxed = tags.boxed(shape)
    face = look.INK if boxed else (1.0, 1.0, 1.0, 0.75)
    style = "circle,pad=0.25" if shape.look == "start" else "round,pad=0.25"
    paper.beside(
        axes, shape.parts[0][0], move_pt, shape.tag, size=tags.size_pt(shape), bold=boxed,
        ink="white" if boxed else look.INK, ha="center", va="center", annotation_clip=True,
        bbox={"boxstyle": style, "linewidth": 1.5 if boxed else 0.0, "edgecolor": tags.rim(shape),
              "facecolor": face},
        arrowprops={"arrowstyle": "-", "color": look.INK} if tags.led(shape) else None,
    )  # fmt: skip


def wind_arrow(axes: Any, view: Extent, says: str, blows_to_deg: float | None) -> None:
    """Upper left: an arrow that points where the wind blows to, and the wind in words."""
    wide = view.east_m - view.west_m
    middle = np.array([view.west_m + 0.05 * wide, view.north_m - 0.05 * wide])
    if blows_to_deg is not None:
        turn = np.radians(blows_to_deg)
        half = 0.03 * wide * np.array([np.sin(turn), np.cos(turn)])
        arrow = {"arrowstyle": "-|>", "color": look.INK, "linewidth": 2.0}
        axes.annotate("", tuple(middle + half), xytext=tuple(middle - half), arrowprops=arrow)
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
    length = tags.bar_m(view)
    x, y = view.west_m + 0.04 * wide, view.south_m + 0.035 * high
    axes.plot([x, x + length], [y, y], color=look.INK, linewidth=3.0, solid_capstyle="butt")
    paper.beside(axes, (x, y), (0.0, 4.0), f"{length:.0f} m, north is up", size=8.0)
