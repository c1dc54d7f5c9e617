"""What is on a map before it is drawn: shapes in frame metres, each with its look and words."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Literal, NamedTuple, TypeVar

import numpy as np

from shotplan.model.arrays import Array

T = TypeVar("T", bound=Hashable)
Kind = Literal["circle", "line", "area", "mark"]


# What may stand on the map, first wins; verdict lines, calls, findings and where shots start
# come before these.
STANDS, LINES, POINTED_AT, OTHERS = 5, 6, 7, 8


class Info(NamedTuple):
    """What a tap tells: a title and rows of label and text; `name` is written on the map itself
    ("" not), as far as its `rank` lets it. May hold names from files."""

    title: str
    rows: tuple[tuple[str, str], ...] = ()
    name: str = ""
    rank: int = OTHERS


class Shape(NamedTuple):
    """One thing drawn. `parts` `(k, 2)` in frame metres: a circle's or mark's point, a line, or
    an area's outer ring and holes. `tag` is written at a mark and never comes from a file;
    `shot` >= 0: a tap asks for the nearest sample of that shot; `near`: only shown from nearer
    than at first sight; `of` >= 0: it belongs to that shot and pales when another is chosen;
    `turn_deg`: its tag is turned so far clockwise."""

    kind: Kind
    look: str
    parts: tuple[Array, ...]
    radius_m: float = 0.0
    tag: str = ""
    info: Info | None = None
    shot: int = -1
    near: bool = False
    of: int = -1
    turn_deg: float = 0.0


class Numbered(dict[T, int]):
    """Things with their numbers, each once, in their order."""

    def number(self, thing: T) -> int:
        """That of a thing, a new one where it has none."""
        return self.setdefault(thing, len(self))


class Sheet(NamedTuple):
    """Shapes that are shown and hidden together, in the order they are drawn; `on` at first
    sight."""

    title: str
    shapes: tuple[Shape, ...]
    on: bool = True


class Extent(NamedTuple):
    """The rectangle drawn, frame metres."""

    west_m: float
    south_m: float
    east_m: float
    north_m: float

    def holds(self, parts: tuple[Array, ...]) -> bool:
        """Whether the box around `parts` touches the rectangle."""
        return any(
            bool(
                p[:, 0].max() >= self.west_m
                and p[:, 0].min() <= self.east_m
                and p[:, 1].max() >= self.south_m
                and p[:, 1].min() <= self.north_m
            )
            for p in parts
            if len(p)
        )


def simplified(path: Array, off_m: float) -> Array:
    """As few of the points of a path `(k, 2)` as draw it to `off_m` (Ramer, Douglas, Peucker);
    first and last stay; two points where there is one."""
    if len(path) < 2:
        return np.concatenate([path, path])
    kept = np.zeros(len(path), dtype=bool)
    kept[[0, -1]] = True
    open_ = [(0, len(path) - 1)]
    while open_:
        low, high = open_.pop()
        if high - low < 2:
            continue
        way, rest = path[high] - path[low], path[low + 1 : high] - path[low]
        share = np.clip(rest @ way / max(float(way @ way), 1e-12), 0.0, 1.0)
        off = np.linalg.norm(rest - share[:, None] * way, axis=1)
        far = int(off.argmax())
        if off[far] > off_m:
            middle = low + 1 + far
            kept[middle] = True
            open_ += [(low, middle), (middle, high)]
    return path[kept]
