"""What the still maps write, how large, and how far from its point."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from shotplan.model import say
from shotplan.model.arrays import Array
from shotplan.output import look
from shotplan.output.look import DPI, WIDTH_PX
from shotplan.output.map import naming, placing
from shotplan.output.map.shapes import Extent, Shape, Sheet
from shotplan.units import FOOT_M

PX = DPI / 72.0  # of the picture, in a point of type
PLACES = {"launch", "stand", "place"}
SIGNS = {"pin-no-go": "×", "pin-caution": "!", "pin-unknown": "?"}  # left on a finding's tag
DENSE = 260.0  # points of a verdict line as long as the view is wide
DARK = {"start", "call"}  # white on ink
ALONE = {"cross", "elevation"}  # not moved apart
Move = tuple[float, float]


def placed(sheets: Sequence[Sheet], view: Extent) -> list[tuple[Shape, Move]]:
    """Tags and how far they are moved from their points, in points of type, y up; what matters
    most comes last, to lie on top."""
    shapes = [s for sheet in sheets for s in sheet.shapes]
    tagged = [
        s for s in shapes if s.tag and not s.near and s.look not in ALONE and view.holds(s.parts)
    ]
    tagged.sort(key=_rank)
    if not tagged:
        return []
    lines = [s.parts[0] for s in shapes if s.look == "touch"]
    sizes = np.array([[len(s.tag) * 0.7 + 0.8, 1.6] for s in tagged])
    sizes *= np.array([[size_pt(s) * PX] for s in tagged])
    moves = moves_pt(
        view, np.array([s.parts[0][0] for s in tagged]), sizes,
        [s.look == "metre" for s in tagged],
        naming.dense(lines, (view.east_m - view.west_m) / DENSE),
    )  # fmt: skip
    pairs = reversed(list(zip(tagged, moves, strict=True)))
    return [(shape, move) for shape, move in pairs if move is not None]


def moves_pt(
    view: Extent, points_m: Array, sizes_px: Array, close_by: Sequence[bool], lines_m: Array
) -> list[Move | None]:
    """How far tags are moved from their points, in points of type, y up; None: left out."""
    scale = WIDTH_PX / (view.east_m - view.west_m)
    corner, turn = np.array([view.west_m, view.north_m]), np.array([scale, -scale])
    whole = (WIDTH_PX, (view.north_m - view.south_m) * scale)
    points, lines = (points_m - corner) * turn, (lines_m - corner) * turn
    moves = placing.apart(points, sizes_px, close_by, lines, whole)
    return [None if m is None else (m[0] / PX, -m[1] / PX) for m in moves]


def _rank(shape: Shape) -> int:
    order = ("call", "pin-no-go", "pin-unknown", "pin-caution", "start", "launch", "metre")
    return order.index(shape.look) if shape.look in order else len(order)


def size_pt(shape: Shape) -> float:
    """The size of its type."""
    return 9.5 if boxed(shape) else 7.5


def ink(shape: Shape) -> str:
    """The colour of its letters."""
    return look.NAMES.get(shape.look, look.INK)


def boxed(shape: Shape) -> bool:
    """Whether a tag stands on a sign of its own."""
    return shape.look in DARK or shape.look.startswith("pin")


def led(shape: Shape) -> bool:
    """Whether a line leads from a tag to its point."""
    return boxed(shape) or shape.look == "metre"


def rim(shape: Shape) -> str:
    """The colour of a sign's rim: a finding's says its verdict."""
    verdict = shape.look.removeprefix("pin-")
    return next((it.line for v, it in look.VERDICTS.items() if v.word == verdict), "white")


def bar_m(view: Extent) -> float:
    """How long the scale's bar is."""
    return max(s for s in say.STEPS if s <= (view.east_m - view.west_m) / 3 or s == 5.0)


class Bar(NamedTuple):
    """A length and its words."""

    long_m: float
    says: str


def bars(view: Extent) -> tuple[Bar, Bar]:
    """The scale's bar in metres, and below it one in feet that is no longer."""
    long = bar_m(view)
    feet = max(s for s in say.STEPS if s * FOOT_M <= long or s == 10.0)
    return Bar(long, f"{long:.0f} m"), Bar(feet * FOOT_M, f"{feet:.0f} ft")
