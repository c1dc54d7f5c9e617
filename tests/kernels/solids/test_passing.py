"""Where a path passes points abeam and crosses lines, by hand and by brute force."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shotplan.kernels.solids.passing import abeam, crossings

NORTH = np.array([(0.0, 0.0), (0.0, 0.0), (0.0, 60.0), (0.0, 100.0)])  # the first leg has no length


def test_a_point_is_passed_where_it_is_abeam() -> None:
    points = np.array([(7.0, 30.0), (-4.0, 80.0), (50.0, 50.0), (3.0, 104.0), (3.0, -4.0)])
    found = abeam(NORTH, points, 40.0)
    # Too far off, beyond the end, before the start: not passed.
    assert found.point.tolist() == [0, 1]
    assert found.leg.tolist() == [1, 2]
    np.testing.assert_allclose(found.share, [0.5, 0.5])
    np.testing.assert_allclose(found.right_m, [7.0, -4.0])


def test_there_and_back_passes_it_twice_unless_it_turns_beside_it() -> None:
    out_and_back = np.array([(0.0, 0.0), (0.0, 100.0), (0.0, 0.0)])
    found = abeam(out_and_back, np.array([(7.0, 30.0), (7.0, 99.0), (0.5, 110.0)]), 40.0)
    # Turning 1 m past the second, the distance rises by 0.07 m between; the third stays ahead.
    assert found.point.tolist() == [0, 0, 1]
    np.testing.assert_allclose(found.right_m[:2], [7.0, -7.0])
    np.testing.assert_allclose(found.share[:2], [0.3, 0.7])


def test_a_bend_passes_what_stands_outside_it_once() -> None:
    angle = np.radians(np.arange(0.0, 91.0, 15.0))
    bend = 30.0 * np.stack([np.sin(angle), np.cos(angle)], axis=-1)
    found = abeam(bend, 1.4 * bend[3:4], 40.0)
    assert found.point.tolist() == [0]
    np.testing.assert_allclose(found.right_m, [-12.0])


@given(
    st.lists(
        st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=3, max_size=12, unique=True
    ),
    st.tuples(st.floats(-50, 50), st.floats(-50, 50)),
)
def test_the_nearest_pass_is_never_nearer_than_the_path(
    path: list[tuple[float, float]], point: tuple[float, float]
) -> None:
    line, here = np.array(path), np.array(point)
    found = abeam(line, here[None], 200.0)
    dense = np.concatenate(
        [a + np.linspace(0.0, 1.0, 201)[:, None] * (b - a) for a, b in itertools.pairwise(line)]
    )
    least = float(np.hypot(*(dense - here).T).min())
    assert (np.abs(found.right_m) >= least - 0.36).all()  # half of 141 m / 200
    for leg, share, right in zip(found.leg, found.share, found.right_m, strict=True):
        foot = line[leg] + share * (line[leg + 1] - line[leg])
        assert np.hypot(*(foot - here)) == pytest.approx(abs(right), abs=1e-6)


def test_a_crossing_is_where_the_lines_meet_and_going_along_is_none() -> None:
    leg, share = crossings(NORTH, np.array([(-10.0, 20.0), (10.0, 40.0), (10.0, 90.0)]))
    assert leg.tolist() == [1]
    np.testing.assert_allclose(share, [0.5])
    along = np.array([(-1.0, 0.0), (1.0, 100.0)])
    assert len(crossings(NORTH, along)[0]) == 0
    assert len(crossings(NORTH, along, shallow=0.0)[0]) == 1
    assert len(crossings(NORTH, np.array([(1.0, 0.0), (9.0, 50.0)]))[0]) == 0
