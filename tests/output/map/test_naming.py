"""Names on the still map: first wins, none covers a line or another, lines are named along."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest

from shotplan.model.arrays import Array
from shotplan.output.map import naming
from shotplan.output.map.naming import Field, Name
from shotplan.output.map.shapes import LINES, OTHERS, POINTED_AT, Info, Kind, Shape

SIZE = 80.0


def field(boxes: Iterable[Iterable[float]] = (), lines: tuple[Array, ...] = ()) -> Field:
    kept = np.array([list(b) for b in boxes]).reshape(-1, 4)
    return Field(kept, naming.dense(lines, 20.0), 4000.0, 3000.0)


def thing(
    name: str, at: list[list[float]], kind: Kind = "circle", rank: int = OTHERS
) -> tuple[Shape, Array, float]:
    points = np.array(at, dtype=float)
    return Shape(kind, "tree", (points,), info=Info(name, (), name, rank)), points, 20.0


def boxes(name: Name) -> Array:
    half = np.array([naming.LETTER * SIZE * len(name.text) / 2.0, 0.6 * SIZE])
    return naming._boxes(name.x, name.y, np.radians(name.turn_deg), half)


def test_what_has_no_name_is_not_named() -> None:
    assert list(naming.names([thing("", [[500.0, 500.0]])], field(), SIZE)) == []


def test_the_first_in_rank_has_the_place_and_the_others_move_or_leave() -> None:
    near = [[2000.0, 1500.0]]
    things = [thing(f"tree {i}", near, rank=OTHERS) for i in range(60)]
    things.append(thing("the stump", near, rank=POINTED_AT))
    found = list(naming.names(things, field(), SIZE))
    assert found[0].text == "the stump"
    assert 3 < len(found) < 61
    every = [boxes(one) for one in found]
    for i, mine in enumerate(every):
        for other in every[i + 1 :]:
            low, high = mine[:, None, :2] < other[:, 2:], mine[:, None, 2:] > other[:, :2]
            assert not (low & high).all(axis=-1).any()


def test_no_name_covers_a_verdict_line_or_leaves_the_drawing() -> None:
    line = np.array([[0.0, 1500.0], [4000.0, 1480.0]])
    rng = np.random.default_rng(7)
    spots = np.concatenate([rng.uniform(0.0, 4000.0, (80, 1)), rng.uniform(1300, 1700, (80, 1))], 1)
    things = [thing("a tree here", [spot.tolist()]) for spot in spots]
    there = field(lines=(line,))
    found = list(naming.names(things, there, SIZE))
    assert len(found) > 10
    for one in found:
        for box in boxes(one):
            inside = (there.lines > box[:2]) & (there.lines < box[2:])
            assert not inside.all(axis=1).any()
            assert box.min() >= 0.0
            assert box[2] <= 4000.0


@pytest.mark.parametrize("way", [1, -1])
def test_a_line_is_named_along_itself_upright_for_the_reader(way: int) -> None:
    path = [[500.0, 2500.0], [2500.0, 500.0]][::way]
    (one,) = naming.names([thing("Walkers' path", path, "line", LINES)], field(), SIZE)
    assert one.turn_deg == pytest.approx(-45.0)
    off = abs((one.x - 500.0) + (one.y - 2500.0)) / np.sqrt(2.0)
    assert off == pytest.approx(naming.BESIDE * SIZE)


def test_a_line_too_short_or_too_bent_for_its_name_has_none() -> None:
    short = thing("a very long name of a path", [[500.0, 500.0], [900.0, 500.0]], "line")
    turns = np.linspace(0.0, 20.0 * np.pi, 800)
    winding = np.stack([500.0 + 30.0 * turns, 1500.0 + 200.0 * np.sin(2.0 * turns)], axis=1)
    bent = thing("a very long name of a path", winding.tolist(), "line")
    assert list(naming.names([short, bent], field(), SIZE)) == []
