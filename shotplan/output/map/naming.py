"""Names on the still map: first wins; a lower one moves round its point or along its line, then
leaves. None covers a verdict line. `placing.js` does the same on the live map."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

import numpy as np

from shotplan.model.arrays import Array
from shotplan.output.map.shapes import Shape

TURNS = tuple(math.radians(t) for t in (-90, 0, 90, 180, -45, -135, 45, 135))
AWAY = (0.4, 1.6, 3.2)  # from what is named, in sizes of type
LETTER = 0.62  # how wide a letter is, in sizes of type
BESIDE = 0.85  # how far a line's name stands off the line
LINE = 0.55  # how near a verdict line a name may come
STEP = 1.5  # along a line, from one try to the next


class Name(NamedTuple):
    """What is written where (right and down), turned clockwise, in the colour of which `look`."""

    text: str
    x: float
    y: float
    turn_deg: float
    look: str


class Field(NamedTuple):
    """What names keep off: `boxes (k, 4)` left, top, right, bottom; `lines (m, 2)` points of
    verdict lines; `wide` and `high` of the drawing."""

    boxes: Array
    lines: Array
    wide: float
    high: float

    def free(self, boxes: Array, gap: float) -> bool:
        """Whether nothing lies where `boxes (n, 4)` are."""
        low, high = boxes[:, :2], boxes[:, 2:]
        if (low < 0.0).any() or (high > [self.wide, self.high]).any():
            return False
        over = (low[:, None] < self.boxes[:, 2:]) & (high[:, None] > self.boxes[:, :2])
        if over.all(axis=-1).any():
            return False
        points = self.lines[None]
        within = (points > low[:, None] - gap) & (points < high[:, None] + gap)
        return not within.all(axis=-1).any()


def names(
    shapes: Iterable[tuple[Shape, Array, float]], field: Field, size: float
) -> Iterator[Name]:
    """Of shapes with their points on the drawing and their radius there, all that find room."""
    wanted = [(s, at, r) for s, at, r in shapes if s.info is not None and s.info.name]
    wanted.sort(key=lambda one: one[0].info.rank if one[0].info else 0)
    for shape, at, radius in wanted:
        assert shape.info is not None
        half = np.array([LETTER * size * len(shape.info.name) / 2.0, 0.6 * size])
        tries = _along(at, half, size) if shape.kind == "line" else _round(at, radius, half, size)
        for x, y, turn in tries:
            boxes = _boxes(x, y, turn, half)
            if field.free(boxes, LINE * size):
                field = field._replace(boxes=np.concatenate([field.boxes, boxes]))
                yield Name(shape.info.name, x, y, math.degrees(turn), shape.look)
                break


def _round(
    at: Array, radius: float, half: Array, size: float
) -> Iterator[tuple[float, float, float]]:
    """Round a point; of an area first in its middle."""
    x, y = (at.min(axis=0) + at.max(axis=0)) / 2.0
    if len(at) > 2:
        yield float(x), float(y), 0.0
        radius = float(np.ptp(at, axis=0).min()) / 2.0
    for away in AWAY:
        for turn in TURNS:
            out = radius + away * size + half
            yield float(x + math.cos(turn) * out[0]), float(y + math.sin(turn) * out[1]), 0.0


def _along(at: Array, half: Array, size: float) -> Iterator[tuple[float, float, float]]:
    """Beside a line where it is straight enough, from its middle outward, upright."""
    gone = np.concatenate([[0.0], np.linalg.norm(np.diff(at, axis=0), axis=1).cumsum()])
    tries = np.arange(half[0], gone[-1] - half[0], STEP * size)
    for s in sorted(tries.tolist(), key=lambda s: abs(s - gone[-1] / 2.0)):
        run = np.linspace(s - half[0], s + half[0], 9)
        path = np.stack([np.interp(run, gone, at[:, k]) for k in (0, 1)], axis=-1)
        a, b = path[0], path[-1]
        if np.abs(path - np.linspace(a, b, 9)).max() > 0.5 * size:
            continue
        turn = math.atan2(b[1] - a[1], b[0] - a[0])
        if math.cos(turn) < -1e-3:
            turn -= math.copysign(math.pi, turn)
        for side in (-1.0, 1.0):
            off = side * BESIDE * size
            x, y = (a + b) / 2.0 + off * np.array([-math.sin(turn), math.cos(turn)])
            yield float(x), float(y), turn


def _boxes(x: float, y: float, turn: float, half: Array) -> Array:
    """A turned field as small upright boxes along it."""
    count = max(1, math.ceil(half[0] / half[1]))
    step = half[0] / count
    along = (2.0 * (np.arange(count) + 0.5) / count - 1.0) * half[0]
    cos, sin = math.cos(turn), math.sin(turn)
    reach = np.array([abs(step * cos) + abs(half[1] * sin), abs(step * sin) + abs(half[1] * cos)])
    middle = np.stack([x + along * cos, y + along * sin], axis=-1)
    return np.concatenate([middle - reach, middle + reach], axis=1)


def dense(lines: Sequence[Array], apart: float) -> Array:
    """Points of all lines, no two neighbours farther apart than that."""
    parts = [np.zeros((0, 2))]
    for line in lines:
        gone = np.concatenate([[0.0], np.linalg.norm(np.diff(line, axis=0), axis=1).cumsum()])
        at = np.arange(0.0, gone[-1] + apart, apart)
        parts.append(np.stack([np.interp(at, gone, line[:, k]) for k in (0, 1)], axis=-1))
    return np.concatenate(parts)
