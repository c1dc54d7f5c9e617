"""The map as one plain picture, for where no script runs: no name from a file is written in it."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np

from shotplan.output import look
from shotplan.output.map import ground, placing
from shotplan.output.map.shapes import Extent, Shape, Sheet

WIDTH_PX = 780  # shown at half of it on a phone
DPI = 144
PLACES = {"launch", "stand", "place"}


def png(
    relief: ground.Relief,
    sheets: tuple[Sheet, ...],
    view: Extent,
    wind: str = "",
    blows_to_deg: float | None = None,
) -> bytes:
    """A PNG of the sheets that are on, and the wind; the same sheets give the same bytes."""
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
    sheets = tuple(sheet for sheet in sheets if sheet.on)
    for sheet in sheets:
        for shape in sheet.shapes:
            draw(axes, shape)
    _tags(axes, sheets, view)
    scale_bar(axes, view)
    wind_arrow(axes, view, wind, blows_to_deg)
    canvas: Any = FigureCanvasAgg(figure)
    canvas.draw()
    return packed(np.asarray(canvas.buffer_rgba())[..., :3])


def packed(pixels: Any, colours: int = 96) -> bytes:
    """Pixels `(rows, cols, 3)` as a small PNG of so many colours, chosen so that none is far off
    (and not so that most are near: a small mark keeps its own)."""
    from PIL import Image

    image = Image.fromarray(np.ascontiguousarray(pixels), mode="RGB")
    out = io.BytesIO()
    few = image.quantize(colours, Image.Quantize.MAXCOVERAGE, kmeans=1, dither=Image.Dither.NONE)
    few.save(out, format="PNG", optimize=True)
    return out.getvalue()


def font(*, bold: bool, size: float) -> Any:
    """matplotlib's own font file, so that the picture is the same on every machine."""
    from matplotlib import get_data_path
    from matplotlib.font_manager import FontProperties

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return FontProperties(fname=str(Path(get_data_path()) / "fonts" / "ttf" / name), size=size)


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
    elif shape.look in PLACES:
        fill, rim = ("white", look.INK) if shape.look == "stand" else (look.INK, "white")
        axes.plot([x], [y], marker="D", color=fill, markersize=7 if shape.look != "place" else 5,
                  markeredgecolor=rim, markeredgewidth=1.2)  # fmt: skip


def _tags(axes: Any, sheets: tuple[Sheet, ...], view: Extent) -> None:
    """All tags, what matters most first, moved apart."""
    shapes = [s for sheet in sheets for s in sheet.shapes]
    alone = {"cross", "elevation", "call"}  # not moved apart; last calls are for a nearer look
    tagged = [s for s in shapes if s.tag and s.look not in alone and view.holds(s.parts)]
    tagged.sort(key=_rank)
    if not tagged:
        return
    scale = WIDTH_PX / (view.east_m - view.west_m)
    corner = np.array([view.west_m, view.north_m])

    def pixels(points: Any) -> Any:
        return (np.asarray(points) - corner) * np.array([scale, -scale])

    lines = [pixels(s.parts[0][::10]) for s in shapes if s.look == "touch"]
    px = DPI / 72.0
    sizes = np.array([[len(s.tag) * 0.7 + 0.8, 1.6] for s in tagged])
    sizes *= np.array([[_points(s) * px] for s in tagged])
    high = (view.north_m - view.south_m) * scale
    moves = placing.apart(
        pixels([s.parts[0][0] for s in tagged]), sizes,
        [s.look == "metre" or s.near for s in tagged],
        np.concatenate([*lines, np.zeros((0, 2))]), (WIDTH_PX, high),
    )  # fmt: skip
    for shape, move in reversed(list(zip(tagged, moves, strict=True))):
        if move is not None:
            _tag(axes, shape, (move[0] / px, -move[1] / px))


def _rank(shape: Shape) -> int:
    order = ("pin-no-go", "pin-unknown", "pin-caution", "start", "launch", "metre")
    rank = order.index(shape.look) if shape.look in order else len(order)
    return rank + len(order) * shape.near


def _points(shape: Shape) -> float:
    return 9.5 if _boxed(shape) else 7.5


def _boxed(shape: Shape) -> bool:
    return shape.look == "start" or shape.look.startswith("pin")


def _tag(axes: Any, shape: Shape, move_pt: tuple[float, float]) -> None:
    boxed = _boxed(shape)
    led = boxed or shape.look == "metre"
    face = look.INK if boxed else (1.0, 1.0, 1.0, 0.75)
    style = "circle,pad=0.25" if shape.look == "start" else "round,pad=0.25"
    verdict = shape.look.removeprefix("pin-")
    rim = next((it.line for v, it in look.VERDICTS.items() if v.word == verdict), "white")
    axes.annotate(
        shape.tag,
        tuple(float(v) for v in shape.parts[0][0]),
        xytext=move_pt,
        textcoords="offset points",
        ha="center",
        va="center",
        fontproperties=font(bold=boxed, size=_points(shape)),
        color="white" if boxed else look.INK,
        bbox={"boxstyle": style, "linewidth": 1.5 if boxed else 0.0, "edgecolor": rim,
              "facecolor": face},
        arrowprops={"arrowstyle": "-", "color": look.INK} if led else None,
        parse_math=False,
        annotation_clip=True,
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
    axes.annotate(
        says,
        tuple(middle),
        xytext=(0.06 * WIDTH_PX * 72.0 / DPI, 0),
        textcoords="offset points",
        va="center",
        fontproperties=font(bold=False, size=8.0),
        color=look.INK,
        parse_math=False,
    )


def scale_bar(axes: Any, view: Extent) -> None:
    """Lower left: a length, and where north is."""
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
        fontproperties=font(bold=False, size=8.0),
        color=look.INK,
        parse_math=False,
    )
