"""A sheet of paper: how it is opened, what is put on it, and how it ends as the same bytes.

Lengths are points from its upper left, so that a point of type is one of length. What is written
may come from files: it is text only, no markup and no formula.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shotplan.output import look
from shotplan.output.lettering import SMALL, TYPE, cut, font, wide, writable

Pixels = NDArray[np.uint8]
UNITS = {"m", "s", "m/s"}
LEVEL = 6  # of packing: the highest, 9, takes seven times as long for a twentieth less
LINE_PT, EDGE_PT = 16.0, 6.0  # of the line at the foot
WHOLE = (0.0, 0.0, 1.0, 1.0)


def figure(wide_in: float, high_in: float, *, dpi: int = look.DPI, paper: str = look.PAPER) -> Any:
    """Paper with nothing on it."""
    from matplotlib.figure import Figure

    return Figure(figsize=(wide_in, high_in), dpi=dpi, facecolor=paper)


def bare(whole: Any, box: tuple[float, float, float, float] = WHOLE) -> Any:
    """Axes over a part of a figure, without lines and numbers."""
    axes = whole.add_axes(box)
    axes.set_axis_off()
    return axes


def sheet(wide_pt: float, high_pt: float, dpi: int = look.DPI, *, paper: str = look.PAPER) -> Any:
    """Axes over a whole new figure, in points."""
    axes = bare(figure(wide_pt / 72.0, high_pt / 72.0, dpi=dpi, paper=paper))
    axes.set_xlim(0.0, wide_pt)
    axes.set_ylim(high_pt, 0.0)
    return axes


def pixels(drawn: Any) -> Pixels:
    """A figure as pixels `(rows, cols, 3)`."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    canvas: Any = FigureCanvasAgg(drawn)
    canvas.draw()
    return np.array(canvas.buffer_rgba(), dtype=np.uint8)[..., :3]


def footed(drawn: Pixels, text: str, dpi: int = look.DPI) -> Pixels:
    """Pixels with a line of small text under them."""
    high = round(2.0 * LINE_PT) / 2.0
    axes = sheet(72.0 * drawn.shape[1] / dpi, high, dpi)
    write(axes, EDGE_PT, high / 2.0, text, size=SMALL)
    foot = pixels(axes.figure)[:, : drawn.shape[1]]
    short = drawn.shape[1] - foot.shape[1]
    return np.concatenate([drawn, np.pad(foot, ((0, 0), (0, short), (0, 0)), mode="edge")])


def packed(drawn: Pixels, colours: int = 96) -> bytes:
    """Pixels as a small PNG of so many colours, chosen so that none is far off (and not so that
    most are near: a small mark keeps its own)."""
    from PIL import Image

    image = Image.fromarray(np.ascontiguousarray(drawn), mode="RGB")
    out = io.BytesIO()
    few = image.quantize(colours, Image.Quantize.MAXCOVERAGE, kmeans=1, dither=Image.Dither.NONE)
    few.save(out, format="PNG", compress_level=LEVEL)
    return out.getvalue()


def png(drawn: Any, colours: int = 96) -> bytes:
    """A figure as a small PNG."""
    return packed(pixels(drawn), colours)


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
    ink: str = look.INK, align: str = "left", box: str = "", zorder: float = 4.0, **more: Any,
) -> None:  # fmt: skip
    """One line of text about its middle height; `box` the colour of the paper under it."""
    back = {"boxstyle": "square,pad=0.12", "facecolor": box, "linewidth": 0.0} if box else None
    pen = {"ha": align, "va": "center_baseline", "zorder": zorder, "bbox": back, **more}
    text = writable(text)
    axes.text(x, y, text, color=ink, parse_math=False,
              fontproperties=font(bold=bold, size=size, text=text), **pen)  # fmt: skip


def beside(
    axes: Any, at: Any, off_pt: tuple[float, float], text: str, *, size: float,
    bold: bool = False, ink: str = look.INK, **more: Any,
) -> None:  # fmt: skip
    """A line of text so far right of a point, and over it."""
    text = writable(text)
    axes.annotate(text, tuple(float(v) for v in at), xytext=off_pt, color=ink,
                  textcoords="offset points",
                  fontproperties=font(bold=bold, size=size, text=text),
                  parse_math=False, **more)  # fmt: skip


def box(axes: Any, x: float, y: float, wide: float, high: float, **pen: Any) -> None:
    """A rectangle, `y` its upper edge."""
    from matplotlib.patches import Rectangle

    axes.add_patch(Rectangle((x, y), wide, high, **pen))


def legend(
    whole: Any, handles: Sequence[Any], corner: tuple[float, float], *, columns: int, size: float,
    **more: Any,
) -> None:  # fmt: skip
    """Samples and what they mean, in the lower left of a figure."""
    whole.legend(handles=handles, loc="lower left", bbox_to_anchor=corner, ncols=columns,
                 frameon=False, prop=font(size=size), labelcolor=look.INK, borderaxespad=0.0,
                 **more)  # fmt: skip


class Laned(NamedTuple):
    """The name `number` of those wanted, cut to `text`: its `lane`, and where it begins."""

    number: int
    text: str
    lane: int
    left: float


def lanes(
    names: Iterable[tuple[str, float]],
    ends: tuple[float, float],
    *,
    most: float,
    order: Sequence[int],
    size: float = SMALL,
    gap: float = 6.0,
) -> Iterator[Laned]:
    """Names `most` wide in lanes, each about the place `at` that it has a line to, as many as have
    room; lanes are tried in their `order`. The names that come first have first choice."""
    taken: list[_Taken] = []
    for number, (name, at) in enumerate(names):
        text = cut(name, most, size=size)
        long = wide(text, size)
        left = min(max(at - long / 2.0, ends[0]), ends[1] - long)
        tries = (_Taken(lane, left, left + long, at) for lane in order if text)
        one = next((t for t in tries if all(_apart(t, other, gap) for other in taken)), None)
        if one is not None:
            taken.append(one)
            yield Laned(number, text, one.lane, left)


class _Taken(NamedTuple):
    lane: int
    left: float
    right: float
    at: float


def _apart(one: _Taken, other: _Taken, gap: float) -> bool:
    """Whether two names do not touch; the line from one lane falls beside the name in the next."""
    if one.lane == other.lane:
        return one.right + gap < other.left or other.right + gap < one.left
    low, high = (one, other) if one.lane > other.lane else (other, one)
    return not low.left - 3.0 <= high.at <= low.right + 3.0


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
