"""Asking every so many samples spares nothing between them."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from shotplan.kernels.rides import thinning


def test_first_and_last_are_always_asked() -> None:
    np.testing.assert_array_equal(thinning.every(8, 5), [0, 5, 7])
    np.testing.assert_array_equal(thinning.every(1, 5), [0])
    np.testing.assert_array_equal(thinning.every(3, 0), [0, 1, 2])


def test_between_two_the_worse_one_is_believed() -> None:
    index = np.array([0, 2, 4, 6])
    margin = np.array([3.0, np.nan, 1.0, -1.0])
    pick = thinning.worse_beside(index, margin, 7)
    # 1 lies beside what is not known, 3 too, 5 beside the broken one.
    np.testing.assert_array_equal(pick, [0, 1, 1, 1, 2, 3, 3])


@given(
    count=st.integers(1, 60), step=st.integers(1, 9),
    values=st.lists(st.floats(-5.0, 5.0), min_size=60, max_size=60),
)  # fmt: skip
def test_the_least_is_that_of_the_sample_asked(count: int, step: int, values: list[float]) -> None:
    index = thinning.every(count, step)
    margin = np.array(values)[: len(index)]
    everywhere = thinning.spread(index, margin, thinning.worse_beside(index, margin, count))
    assert everywhere.min() == margin.min()
    assert int(everywhere.argmin()) in index
    np.testing.assert_array_equal(everywhere[index], margin)
