"""The map as one plain picture, for where no script runs: no name from a file is written in it."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np

from shotplan.output import ground, look
from shotplan.output.shapes import Extent, Shape, Sheet

WIDTH_PX = 780  # shown at half of it on a phone
DPI = 144


def png(relief: ground.Relief, sheets: tuple[Sheet, ...], view: Extent) -> bytes:
    """A PNG of all sheets; the same sheets give the same bytes."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    wide, high = view.east_m - view.west_m, view.north_m - view.south_m
    size = (WIDTH_PX / DPI, WIDTH_PX / DPI * high / wide)
    figure = Figure(figsize=size, dpi=DPI)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    box = (view.west_m, view.east_m, view.south_m, view.north_m)
    axes.imshow(ground.rgb(relief), extent=box, interpolation="bilinear", aspect="auto")
    axes.set_xlim(view.west_m, view.east_m)
    axes.set_ylim(view.south_m, view.north_m)
    for sheet in sheets:
        for shape in sheet.shapes:
            _draw(axes, shape)
    _scale_bar(axes, view)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    return _packed(np.asarray(canvas.buffer_rgba())[..., :3])


def _packed(pixels: Any) -> bytes:
    from PIL import Image

    image = Image.fromarray(np.ascontiguousarray(pixels), mode="RGB")
    out = io.BytesIO()
    image.quantize(96, dither=Image.Dither.NONE).save(out, format="PNG", optimize=True)
    return out.getvalue()


def _font(*, bold: bool, size: float) -> Any:
    """matplotlib's own font file, so that the picture is the same on every machine."""
    from matplotlib import get_data_path
    from matplotlib.font_manager import FontProperties

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return FontProperties(fname=str(Path(get_data_path()) / "fonts" / "ttf" / name), size=size)


def _draw(axes: Any, shape: Shape) -> None:
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
    """A pin, a label or a place."""
    x, y = (float(v) for v in shape.parts[0][0])
    if shape.look in {"place", "launch"}:
        axes.plot([x], [y], marker="^" if shape.look == "launch" else "D", color=look.INK,
                  markersize=8, markeredgecolor="white", markeredgewidth=1.2)  # fmt: skip
    if not shape.tag:
        return
    boxed = shape.look == "start" or shape.look.startswith("pin")
    axes.annotate(
        shape.tag,
        (x, y),
        xytext=(0, 11 if boxed or shape.look == "launch" else 5),
        textcoords="offset points",
        ha="center",
        va="center",
        fontproperties=_font(bold=boxed, size=9.5 if boxed else 7.5),
        color="white" if boxed else look.INK,
        bbox={"boxstyle": "round,pad=0.25", "linewidth": 0.0,
              "facecolor": look.INK if boxed else (1.0, 1.0, 1.0, 0.6)},
        arrowprops={"arrowstyle": "-", "color": look.INK} if boxed else None,
        parse_math=False,
        annotation_clip=True,
    )  # fmt: skip


def _scale_bar(axes: Any, view: Extent) -> None:
    wide, high = view.east_m - view.west_m, view.north_m - view.south_m
    lengths = (5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000)
    length = max(s for s in lengths if s <= wide / 3 or s == lengths[0])
    x, y = view.west_m + 0.04 * wide, view.south_m + 0.035 * high
    axes.plot([x, x + length], [y, y], color=look.INK, linewidth=3.0, solid_capstyle="butt")
    axes.annotate(
        f"{length} m, north is up",
        (x, y),
        xytext=(0, 4),
        textcoords="offset points",
        fontproperties=_font(bold=False, size=8.0),
        color=look.INK,
        parse_math=False,
    )
