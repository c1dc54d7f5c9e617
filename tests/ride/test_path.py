"""Cropping, riding back, and what is too fast."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shotplan.ride.path import Path, at_speed, crop, there_and_back, too_fast


def bent() -> Path:
    """60 m east in 10 s, 20 s of standing, 40 m north in 10 s."""
    return Path(
        t_s=np.array([0.0, 10.0, 30.0, 40.0]),
        xy_m=np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 0.0], [60.0, 40.0]]),
    )


def test_a_crop_starts_where_he_rides_on_and_ends_where_he_arrives() -> None:
    ahead = crop(bent(), 60.0, 80.0)
    np.testing.assert_allclose(ahead.t_s, [0.0, 5.0])
    np.testing.assert_allclose(ahead.xy_m, [[60.0, 0.0], [60.0, 20.0]])
    before = crop(bent(), 30.0, 60.0)
    np.testing.assert_allclose(before.t_s, [0.0, 5.0])
    np.testing.assert_allclose(before.xy_m, [[30.0, 0.0], [60.0, 0.0]])


def test_a_crop_inside_one_leg() -> None:
    part = crop(bent(), 10.0, 25.0)
    np.testing.assert_allclose(part.xy_m, [[10.0, 0.0], [25.0, 0.0]])
    np.testing.assert_allclose(part.t_s, [0.0, 2.5])


def test_no_crop_keeps_standing_at_the_ends() -> None:
    stands = Path(
        t_s=np.array([0.0, 5.0, 6.0, 9.0]), xy_m=np.array([[0.0, 0], [0, 0], [8, 0], [8, 0]])
    )
    whole = crop(stands, 0.0, stands.length_m)
    np.testing.assert_array_equal(whole.t_s, stands.t_s)


@given(st.floats(0.5, 99.0), st.floats(0.5, 99.0))
def test_two_crops_make_the_whole(one: float, other: float) -> None:
    low, high = sorted((one, other))
    parts = [crop(bent(), 0.0, low), crop(bent(), high, 100.0)]
    parts += [crop(bent(), low, high)] if high - low > 1e-6 else []
    np.testing.assert_allclose(sum(p.length_m for p in parts), 100.0, atol=1e-6)
    assert all(np.all(np.diff(p.t_s) > 0.0) for p in parts)


def test_there_and_back_is_as_fast_at_every_place() -> None:
    both = there_and_back(bent())
    np.testing.assert_allclose(both.t_s[-1], 80.0)
    np.testing.assert_allclose(both.length_m, 200.0)
    np.testing.assert_allclose(both.xy_m, both.xy_m[::-1])
    np.testing.assert_allclose(np.diff(both.t_s), np.diff(both.t_s)[::-1])


def test_one_speed() -> None:
    path = at_speed(np.array([[0.0, 0.0], [0.0, 0.0], [30.0, 40.0]]), 5.0)
    np.testing.assert_allclose(path.t_s, [0.0, 10.0])


def test_too_fast_says_how_fast_and_where() -> None:
    assert too_fast(bent()) is None
    jump = Path(t_s=np.array([0.0, 10.0, 11.0]), xy_m=np.array([[0.0, 0], [50, 0], [142, 0]]))
    found = too_fast(jump)
    assert found is not None
    assert found == pytest.approx((92.0, 50.0, 1))
