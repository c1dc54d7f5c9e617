"""The pinhole: where things show, whichever way it points."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shotplan.kernels.light import camera, light

TURN = st.floats(-np.pi, np.pi)
TILT = st.floats(-1.5, 1.5)


def placed(azimuth: float, elevation: float, to: np.ndarray) -> camera.InFrame:
    return camera.place(np.array(azimuth), np.array(elevation), to)


@given(TURN, TILT, st.floats(0.1, 1e4))
def test_what_it_points_at_is_in_the_middle(azimuth: float, elevation: float, far: float) -> None:
    to = far * light.toward(np.array(azimuth), np.array(elevation))
    got = placed(azimuth, elevation, to)
    assert abs(float(got.right)) < 1e-9
    assert abs(float(got.up)) < 1e-9
    assert float(got.ahead) == pytest.approx(far)


@given(TURN, TILT, TURN, TILT)
def test_the_angle_off_the_axis_is_the_angle_on_the_sky(
    azimuth: float, elevation: float, other: float, height: float
) -> None:
    axis = light.toward(np.array(azimuth), np.array(elevation))
    to = light.toward(np.array(other), np.array(height))
    away = float(light.angle_rad(axis, to))
    got = placed(azimuth, elevation, to)
    if away < 1.5:
        assert np.hypot(got.right, got.up) == pytest.approx(np.tan(away), rel=1e-6, abs=1e-6)
    elif away > 1.6:
        assert np.isposinf(got.right)
        assert np.isposinf(got.up)


def test_right_is_right_and_up_is_up() -> None:
    # Looking west, level: north is to the right.
    got = placed(-np.pi / 2, 0.0, np.array([-10.0, 3.0, 2.0]))
    assert float(got.right) == pytest.approx(0.3)
    assert float(got.up) == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("share", "name"),
    # Share of the frame's height, from memory: under 5 % extreme long, over 75 % close-up.
    [(0.04, "extreme long"), (0.06, "very long"), (0.3, "long"), (0.5, "medium"),
     (0.7, "medium close-up"), (0.8, "close-up")],
)  # fmt: skip
def test_names_of_sizes(share: float, name: str) -> None:
    assert camera.SIZES[int(camera.size(np.array(share)))] == name


def test_panning_across_north_is_no_jump() -> None:
    azimuth = np.radians(np.array([350.0, 355.0, 0.0, 5.0, 10.0])) % (2 * np.pi)
    np.testing.assert_allclose(np.degrees(camera.pan_rad_s(azimuth, 0.1, 2)), 50.0)
