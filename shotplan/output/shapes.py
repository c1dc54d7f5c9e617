"""What is on a map before it is drawn: shapes in frame metres, each with its look and words."""

from __future__ import annotations

from typing import Literal, NamedTuple

from shotplan.model.arrays import Array

Kind = Literal["circle", "line", "area", "mark"]


class Info(NamedTuple):
    """What a tap tells: a title and rows of label and text. May hold names from files."""

    title: str
    rows: tuple[tuple[str, str], ...] = ()


class Shape(NamedTuple):
    """One thing drawn. `parts` `(k, 2)` in frame metres: a circle's or mark's point, a line, or
    an area's outer ring and holes. `tag` is written at a mark and never comes from a file;
    `shot` >= 0: a tap asks for the nearest sample of that shot."""

    kind: Kind
    look: str
    parts: tuple[Array, ...]
    radius_m: float = 0.0
    tag: str = ""
    info: Info | None = None
    shot: int = -1


class Sheet(NamedTuple):
    """Shapes that are shown and hidden together, in the order they are drawn."""

    title: str
    shapes: tuple[Shape, ...]


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
