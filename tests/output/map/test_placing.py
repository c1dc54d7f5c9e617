from __future__ import annotations

import itertools

import numpy as np

from shotplan.output.map import placing

VIEW = (400.0, 400.0)
NONE = np.zeros((0, 2))


def test_tags_of_one_place_do_not_lie_on_each_other() -> None:
    points = np.full((6, 2), 200.0)
    sizes = np.tile([40.0, 20.0], (6, 1))
    moves = placing.apart(points, sizes, [False] * 6, NONE, VIEW)
    assert None not in moves
    for a, b in itertools.combinations([m for m in moves if m], 2):
        assert abs(a[0] - b[0]) >= 40.0 or abs(a[1] - b[1]) >= 20.0


def test_a_tag_stays_within_the_view_and_off_the_lines() -> None:
    size = np.array([[40.0, 20.0]])
    (corner,) = placing.apart(np.array([[2.0, 2.0]]), size, [False], NONE, VIEW)
    assert corner is not None
    assert corner[0] >= 18.0
    assert corner[1] >= 8.0
    above = np.stack([np.full(60, 200.0), np.arange(140.0, 200.0)], axis=1)
    (move,) = placing.apart(np.array([[200.0, 200.0]]), size, [False], above, VIEW)
    assert move is not None
    box = np.array([200.0, 200.0]) + move
    covered = (np.abs(above - box) < [20.0, 10.0]).all(axis=1)
    assert not covered.any()


def test_a_label_that_finds_no_room_close_by_is_left_out() -> None:
    points = np.full((40, 2), 200.0)
    sizes = np.tile([60.0, 30.0], (40, 1))
    moves = placing.apart(points, sizes, [False] * 39 + [True], NONE, VIEW)
    assert moves[-1] is None
    assert placing.apart(points[:1], sizes[:1], [True], NONE, VIEW)[0] is not None
