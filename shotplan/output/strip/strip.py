"""A strip: along the ride from left to right, one row per style, or per check, by its word.

Read at phone width. A word shows twice: by its colour, and by the line under it, which is the
map's (even, dashed, dotted, crosses). Names from files are text only: no markup, no formulas.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.model.verdict import Verdict
from shotplan.output import look, paper
from shotplan.output.lettering import SMALL, cut, fitting, wide
from shotplan.output.look import WIDE
from shotplan.output.paper import Pixels, write
from shotplan.output.strip import key
from shotplan.output.strip.key import EDGE, LINE
from shotplan.scene.landmarks import AWAY_SHARE, UNNAMED_M, Landmark

GAP = 8.0
LANE, LABEL, WORDS = 14.0, 20.0, 28.0
ROW = LABEL + WORDS + LINE + GAP
AXIS, TITLE, LEGEND = 32.0, 22.0, 70.0
BAND_M = 260.0  # along the ride, before it goes on in another band
MOST_BANDS = 3
UNDER = {"boxstyle": "square,pad=0.1", "facecolor": look.PAPER, "linewidth": 0.0}
GAP_WORDS = (("nothing passes: land or hold",), ("nothing passes",), ("gap",))


class Cell(NamedTuple):
    """A part of a row. `wordings` of one or two lines, the longest first: the first that has room
    is written; of the last, lines that start with a letter may be cut."""

    from_m: float
    to_m: float
    verdict: Verdict
    wordings: tuple[tuple[str, ...], ...] = ()


class Row(NamedTuple):
    """`label` and a `note` over its cells."""

    label: str
    cells: tuple[Cell, ...]
    note: str = ""


class Mark(NamedTuple):
    """Something to point at, `at_m` along the ride; the least `worth` is written first."""

    at_m: float
    text: str
    worth: float


class Span(NamedTuple):
    """A part of the recommended way, in the row number `row`; `tag` is written where it begins."""

    row: int
    from_m: float
    to_m: float
    tag: str = ""


class Clock(NamedTuple):
    """Metres along the ride, rising, and when the rider is there."""

    along_m: Array
    time_s: Array


class _Band(NamedTuple):
    """A part of the ride across the picture; `top` of its landmarks, `first` of its first row."""

    from_m: float
    to_m: float
    top: float
    rows: int

    @property
    def first(self) -> float:
        return self.top + 2.0 * LANE + 6.0

    @property
    def below(self) -> float:
        return self.first + self.rows * ROW

    def x(self, at_m: float) -> float:
        share = (at_m - self.from_m) / (self.to_m - self.from_m)
        return EDGE + min(max(share, 0.0), 1.0) * (WIDE - 2.0 * EDGE)

    def y(self, row: int) -> float:
        """The top of a row's cells."""
        return self.first + row * ROW + LABEL

    def part(self, from_m: float, to_m: float) -> tuple[float, float] | None:
        """Left and right of a part of the ride; None where it is elsewhere."""
        if to_m <= self.from_m + 1e-6 or from_m >= self.to_m - 1e-6:
            return None
        return self.x(from_m), self.x(to_m)


def pixels(
    rows: Sequence[Row],
    marks: Iterable[Mark],
    clock: Clock,
    *,
    title: str = "",
    path: Sequence[Span] = (),
    gaps: Sequence[tuple[float, float]] = (),
    legend: bool = True,
) -> Pixels:
    """The rows as pixels, to be stacked with others; the legend is left to one of them. `path` is
    drawn through the rows as one broad outline, `gaps` are hatched across all of them."""
    bands = _bands(clock, len(rows))
    axes = paper.sheet(WIDE, bands[-1].below + AXIS + (LEGEND if legend else 0.0))
    write(axes, EDGE, TITLE / 2.0, cut(title, WIDE - 2.0 * EDGE, bold=True), bold=True)
    listed = sorted(marks, key=lambda m: (m.worth, m.at_m, m.text))
    for band in bands:
        _landmarks(axes, band, listed)
        _scale(axes, band, clock)
        for index, row in enumerate(rows):
            _row(axes, band, index, row)
        for low, high_m in gaps:
            _gap(axes, band, low, high_m)
        _way(axes, band, path)
    if legend:
        key.draw(axes, bands[-1].below + AXIS, path=bool(path), gaps=bool(gaps))
    return paper.pixels(axes.figure)


def pointed_at(marks: Iterable[Landmark]) -> Iterator[Mark]:
    """What can be pointed at: near ones with a name come first."""
    for mark in marks:
        worth = AWAY_SHARE * mark.away_m + (0.0 if mark.named else UNNAMED_M)
        yield Mark(mark.along_m, mark.called, worth)


def _bands(clock: Clock, rows: int) -> list[_Band]:
    start, end = float(clock.along_m[0]), float(clock.along_m[-1])
    count = min(MOST_BANDS, max(1, math.ceil((end - start) / BAND_M)))
    edges = np.linspace(start, end, count + 1).tolist()
    bands: list[_Band] = []
    for low, high in pairwise(edges):
        top = bands[-1].below + AXIS if bands else TITLE
        bands.append(_Band(low, high, top, rows))
    return bands


def _row(axes: Any, band: _Band, index: int, row: Row) -> None:
    y = band.y(index)
    note_wide = wide(row.note, SMALL) + GAP if row.note else 0.0
    label = cut(row.label, WIDE - 2.0 * EDGE - note_wide, bold=True)
    over = y - 11.5
    write(axes, EDGE, over, label, bold=True, zorder=9.0, bbox=UNDER)
    if row.note:
        write(axes, WIDE - EDGE, over, row.note, size=SMALL, align="right", zorder=9.0,
              bbox=UNDER)  # fmt: skip
    for cell in row.cells:
        part = band.part(cell.from_m, cell.to_m)
        if part is not None:
            _cell(axes, *part, y, cell)


def _cell(axes: Any, left: float, right: float, y: float, cell: Cell) -> None:
    """Its words on a tint, the word's line below them, a border."""
    style = look.VERDICTS[cell.verdict]
    key.box(axes, left, right, y, y + WORDS, key.tinted(style.line))
    key.line(axes, left, right, y + WORDS, cell.verdict)
    axes.plot([left, left], [y, y + WORDS + LINE], color=look.INK, linewidth=0.7)
    axes.plot([right, right], [y, y + WORDS + LINE], color=look.INK, linewidth=0.7)
    said = fitting(cell.wordings, right - left - 9.0)
    for k, text in enumerate(said):
        at = y + WORDS / 2.0 if len(said) == 1 else y + 8.5 + 12.0 * k
        write(axes, left + 5.0, at, text, size=SMALL)


def _gap(axes: Any, band: _Band, from_m: float, to_m: float) -> None:
    part = band.part(from_m, to_m)
    if part is None:
        return
    left, right = part
    low, high = band.first, band.below - GAP + 3.0
    key.box(axes, left, right, low, high, "none", hatch="///", zorder=0.8)
    for x in part:
        axes.plot([x, x], [low, high], color=look.INK, linewidth=1.6, zorder=3.0)
    for text in fitting(GAP_WORDS, right - left - 4.0):
        middle = (left + right) / 2.0
        write(axes, middle, low + LABEL / 2.0, text, size=SMALL, align="center", bbox=UNDER)


def _way(axes: Any, band: _Band, path: Sequence[Span]) -> None:
    """The recommended way: an outline round its cells, joined where the row changes."""
    pens = ((look.INK, 5.0), ("white", 1.8))
    for (colour, width), before in zip(pens, (7.0, 7.1), strict=True):
        for index, one in enumerate(path):
            nxt = path[index + 1] if index + 1 < len(path) else None
            part = band.part(one.from_m, one.to_m)
            y = band.y(one.row)
            if part is not None:
                _outline(axes, *part, y, colour, width, before)
            if nxt is None or nxt.row == one.row or abs(nxt.from_m - one.to_m) > 1e-6:
                continue
            if band.from_m + 1e-6 < one.to_m < band.to_m - 1e-6:
                x, low, high = band.x(one.to_m), *sorted((y, band.y(nxt.row)))
                axes.plot([x, x], [low + WORDS + LINE, high], color=colour, linewidth=width,
                          zorder=before, solid_capstyle="butt")  # fmt: skip
    for one in path:
        part = band.part(one.from_m, one.to_m)
        if part is not None and one.tag:
            _tag(axes, part[0] + 8.0, band.y(one.row) + WORDS + LINE / 2.0, one.tag)


def _outline(
    axes: Any, left: float, right: float, y: float, colour: str, width: float, zorder: float
) -> None:
    x, high = [left, right, right, left, left], y + WORDS + LINE
    axes.plot(x, [y, y, high, high, y], color=colour, linewidth=width, zorder=zorder,
              solid_joinstyle="round")  # fmt: skip


def _tag(axes: Any, x: float, y: float, text: str) -> None:
    axes.plot([x], [y], "o", color=look.INK, markersize=14.0, zorder=8.0, mec="white", mew=1.2)
    write(axes, x, y, text, bold=True, size=SMALL, align="center", ink="white", zorder=9.0)


def _landmarks(axes: Any, band: _Band, marks: Sequence[Mark]) -> None:
    """Names over the rows in two lanes, what is worth most first, as many as have room."""
    here = [m for m in marks if band.from_m <= m.at_m <= band.to_m]
    names = [(m.text, band.x(m.at_m)) for m in here]
    for laned in paper.lanes(names, (EDGE, WIDE - EDGE), most=0.4 * WIDE, order=(1, 0), gap=GAP):
        at, y = names[laned.number][1], band.top + (laned.lane + 0.5) * LANE + 2.0
        write(axes, laned.left, y, laned.text, size=SMALL)
        axes.plot([at, at], [y + 7.0, band.below], color=look.INK, linewidth=0.6,
                  linestyle=(0, (2, 3)), zorder=0.5)  # fmt: skip


def _scale(axes: Any, band: _Band, clock: Clock) -> None:
    """Metres and seconds below the rows."""
    per_m = (WIDE - 2.0 * EDGE) / (band.to_m - band.from_m)
    step = say.round_step(64.0 / per_m)
    y = band.below - GAP + 3.0
    axes.plot([EDGE, WIDE - EDGE], [y, y], color=look.INK, linewidth=1.0)
    for at in np.arange(math.ceil(band.from_m / step - 1e-9) * step, band.to_m + 1e-6, step):
        x = band.x(float(at))
        axes.plot([x, x], [y, y + 4.0], color=look.INK, linewidth=1.0)
        align = "left" if x < 20.0 else "right" if x > WIDE - 22.0 else "center"
        seconds = float(np.interp(at, clock.along_m, clock.time_s))
        write(axes, x, y + 11.0, f"{at:.0f} m", size=SMALL, align=align)
        write(axes, x, y + 22.5, f"{seconds:.0f} s", size=SMALL, align=align)
