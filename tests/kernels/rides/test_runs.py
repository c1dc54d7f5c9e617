"""Runs of consecutive samples."""

from __future__ import annotations

import numpy as np

from shotplan.kernels.rides.runs import held, last_good, runs, short_runs, stretches


def test_only_short_runs_are_marked() -> None:
    flags = np.array([[1, 1, 0, 1, 1, 1, 0, 1], [0, 0, 0, 0, 0, 0, 0, 0]], dtype=bool)
    got = short_runs(flags, 2)
    assert got.astype(int).tolist() == [[1, 1, 0, 0, 0, 0, 0, 1], [0] * 8]


def test_exactly_the_limit_is_short_and_one_more_is_not() -> None:
    twenty = np.array([[0] + [1] * 20 + [0]], dtype=bool)
    assert short_runs(twenty, 20).sum() == 20
    assert short_runs(twenty, 19).sum() == 0


def test_runs_of_equal_values_cover_everything_once() -> None:
    assert runs(np.array([3, 3, 1, 1, 1, 3])) == [(0, 2), (2, 5), (5, 6)]
    assert runs(np.array([], dtype=int)) == []
    assert runs(np.array(["a"], dtype=object)) == [(0, 1)]


def test_stretches_are_the_runs_of_true() -> None:
    assert stretches(np.array([1, 1, 0, 1, 0, 0, 1], dtype=bool)) == [(0, 2), (3, 4), (6, 7)]
    assert stretches(np.zeros(3, dtype=bool)) == stretches(np.zeros(0, dtype=bool)) == []


def test_held_takes_the_first_good_one_at_the_start() -> None:
    angle = np.array([[1.0, 2.0, 3.0, 4.0], [1.0, 2.0, 3.0, 4.0]])
    good = np.array([[False, True, False, True], [False] * 4])
    np.testing.assert_array_equal(held(angle, good), [[2.0, 2.0, 2.0, 4.0], [1.0] * 4])
    np.testing.assert_array_equal(held(angle[0], good[0]), [2.0, 2.0, 2.0, 4.0])
    np.testing.assert_array_equal(last_good(good), [[-1, 1, 1, 3], [-1] * 4])
