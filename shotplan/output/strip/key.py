"""How the four words are drawn in a strip, and its legend."""

from __future__ import annotations

from typing import Any

import numpy as np

from shotplan.model.arrays import Array
from shotplan.model.verdict import Verdict
from shotplan.output import look, paper
from shotplan.output.lettering import SMALL, wide
from shotplan.output.look import WIDE
from shotplan.output.paper import Pixels, write

EDGE, LINE, HIGH = 6.0, 11.0, 44.0
TINT = 0.4  # of the word's colour behind its words
HATCH = "#7d7f80"
CHIP_GO = "#1f6f9c"  # under white words


def pixels() -> Pixels:
    """The legend of the four words alone."""
    axes = paper.sheet(WIDE, HIGH)
    draw(axes, 0.0, path=False, gaps=False)
    return paper.pixels(axes.figure)


def draw(axes: Any, top: float, *, path: bool, gaps: bool) -> None:
    """The words, and of what else is drawn what it means."""
    half = (WIDE - 2.0 * EDGE) / 2.0
    for k, (verdict, style) in enumerate(look.VERDICTS.items()):
        x, y = EDGE + half * (k % 2), top + 8.0 + 20.0 * (k // 2)
        box(axes, x, x + 44.0, y - 9.0, y - 2.0, tinted(style.line))
        line(axes, x, x + 44.0, y - 2.0, verdict)
        write(axes, x + 50.0, y, style.says, size=SMALL)
    y = top + 50.0
    if path:
        for colour, width in ((look.INK, 5.0), ("white", 1.8)):
            axes.plot([EDGE + 3, EDGE + 41], [y, y], color=colour, linewidth=width)
        write(axes, EDGE + 50.0, y, "recommended, in this order", size=SMALL)
    if gaps:
        x = EDGE + half
        box(axes, x, x + 44.0, y - 6.0, y + 6.0, "none", hatch="///")
        write(axes, x + 50.0, y, "nothing passes: land or hold", size=SMALL)


def line(axes: Any, left: float, right: float, y: float, verdict: Verdict) -> None:
    """A word's line, as on the map: even, dashed, dotted, broad with crosses."""
    style, middle, room = look.VERDICTS[verdict], y + LINE / 2.0, right - left
    casing = style.line if verdict in (Verdict.GO, Verdict.NO_GO) else look.INK
    box(axes, left, right, y, y + LINE, casing)

    def centres(step: float) -> Array:
        count = max(1, int(room // step))
        return left + (np.arange(count) + 0.5) * room / count

    if verdict == Verdict.CAUTION:
        at, half = centres(12.0), min(3.6, 0.3 * room)
        axes.hlines(
            np.full(len(at), middle), at - half, at + half, color=style.line, linewidth=LINE - 3.0
        )
    elif verdict == Verdict.UNKNOWN:
        at = centres(9.0)
        axes.plot(at, np.full(len(at), middle), "o", color=style.line, markersize=4.2, mew=0.0)
    elif verdict == Verdict.NO_GO:
        at = centres(11.0)
        axes.plot(at, np.full(len(at), middle), "x", color="white", markersize=5.4, mew=1.5)


def chip(axes: Any, right: float, top: float, verdict: Verdict, *, size: float) -> float:
    """The word on its colour, with its mark, its right edge given; where it begins."""
    fill = {Verdict.GO: CHIP_GO, Verdict.UNKNOWN: look.INK}.get(
        verdict, look.VERDICTS[verdict].line
    )
    ink = look.INK if verdict == Verdict.CAUTION else "white"
    word = f"✕ {verdict.word}" if verdict == Verdict.NO_GO else verdict.word
    foot = 0.35 * size if verdict in (Verdict.CAUTION, Verdict.UNKNOWN) else 0.0
    long, high = wide(word, size, bold=True) + 1.1 * size, 1.6 * size + foot
    left = right - long
    paper.box(axes, left, top, long, high, facecolor=fill, edgecolor=look.INK, linewidth=1.4,
              zorder=4.0)  # fmt: skip
    write(axes, left + long / 2.0, top + 0.78 * size, word, size=size, bold=True, ink=ink,
          align="center", zorder=4.4)  # fmt: skip
    step = 0.42 * size
    at = left + 0.5 * size + np.arange(0.0, long - size, step)
    low = np.full(len(at), top + high - 0.5 * foot)
    if verdict == Verdict.CAUTION:
        axes.hlines(low, at - 0.3 * step, at + 0.3 * step, color=look.INK, linewidth=foot,
                    zorder=4.2)  # fmt: skip
    elif verdict == Verdict.UNKNOWN:
        axes.plot(at, low - 0.3 * foot, "o", color="white", markersize=0.14 * size, mew=0.0,
                  zorder=4.2)  # fmt: skip
    return left


def box(
    axes: Any, left: float, right: float, top: float, bottom: float, fill: Any,
    *, hatch: str = "", zorder: float = 1.0,
) -> None:  # fmt: skip
    """Filled, or hatched with a rim."""
    paper.box(axes, left, top, right - left, bottom - top, facecolor=fill, hatch=hatch or None,
              edgecolor=HATCH if hatch else "none", linewidth=0.8 if hatch else 0.0,
              zorder=zorder)  # fmt: skip


def tinted(colour: str) -> tuple[float, ...]:
    """A word's colour, pale."""
    from matplotlib.colors import to_rgb

    return tuple(TINT * c + (1.0 - TINT) for c in to_rgb(colour))
