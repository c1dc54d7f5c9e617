"""A sheet of paper to write on: in points from its upper left, a point of type is one of length."""

from __future__ import annotations

import io
from typing import Any

import numpy as np

from shotplan.output import look
from shotplan.output.lettering import TYPE, cut, wide, writable
from shotplan.output.map.still import font

UNITS = {"m", "s", "m/s"}


def sheet(wide_pt: float, high_pt: float, dpi: int, *, paper: str = "white") -> Any:
    """Axes over a whole new figure."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(wide_pt / 72.0, high_pt / 72.0), dpi=dpi, facecolor=paper)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    axes.set_xlim(0.0, wide_pt)
    axes.set_ylim(high_pt, 0.0)
    return axes


def pixels(axes: Any) -> Any:
    """The sheet as pixels `(rows, cols, 3)`."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas: Any = FigureCanvasAgg(axes.figure)
    canvas.draw()
    return np.array(canvas.buffer_rgba())[..., :3]


def pdf(sheets: list[Any]) -> bytes:
    """Sheets as the pages of one PDF; it holds no date, so the same sheets are the same bytes."""
    from matplotlib.backends.backend_pdf import FigureCanvasPdf, PdfPages

    out = io.BytesIO()
    told = {"Creator": None, "Producer": None, "CreationDate": None}
    with PdfPages(out, metadata=told) as pages:
        for axes in sheets:
            FigureCanvasPdf(axes.figure)
            pages.savefig(axes.figure)
    return out.getvalue()


def write(
    axes: Any, x: float, y: float, text: str, *, size: float = TYPE, bold: bool = False,
    ink: str = look.INK, align: str = "left", box: str = "", zorder: float = 4.0,
) -> None:  # fmt: skip
    """One line of text about its middle height; `box` the colour of the paper under it."""
    back = {"boxstyle": "square,pad=0.12", "facecolor": box, "linewidth": 0.0}
    axes.text(
        x, y, writable(text), ha=align, va="center_baseline", color=ink, parse_math=False,
        fontproperties=font(bold=bold, size=size), bbox=back if box else None, zorder=zorder,
    )  # fmt: skip


def wrapped(
    text: str, room: float, *, size: float = TYPE, bold: bool = False, lines: int = 99
) -> list[str]:
    """Text in lines that have room; a word that is longer than a line, and the last line where
    more would follow, are cut."""
    found: list[str] = []
    left, gap = _words(text), wide("n n", size, bold=bold) - wide("nn", size, bold=bold)
    while left and len(found) < lines:
        count, long = 1, wide(left[0], size, bold=bold)
        while count < len(left) and len(found) < lines - 1:
            long += gap + wide(left[count], size, bold=bold)
            if long > room:
                break
            count += 1
        count = len(left) if len(found) == lines - 1 else count
        found.append(cut(" ".join(left[:count]), room, size=size, bold=bold))
        left = left[count:]
    return found


def _words(text: str) -> list[str]:
    """Words that are not parted: a number keeps its unit."""
    found: list[str] = []
    for word in text.split():
        if found and word.rstrip(".,;:)") in UNITS and found[-1][-1].isdigit():
            found[-1] += f" {word}"
        else:
            found.append(word)
    return found
