import math

import numpy as np
import pytest

from shotplan.kernels.motion.setpoints import Array, aim_at, at_place, azimuth_rad, raised, unit


@pytest.mark.parametrize(
    ("azimuth", "east", "north"), [(0, 0, 1), (90, 1, 0), (180, 0, -1), (270, -1, 0)]
)
def test_azimuths_run_clockwise_from_north(azimuth: float, east: float, north: float) -> None:
    vector = unit(np.array(math.radians(azimuth)))
    np.testing.assert_allclose(vector, [east, north], atol=1e-12)
    back = math.degrees(float(azimuth_rad(vector)))
    assert back % 360.0 == pytest.approx(azimuth)


def slope(xy_m: Array) -> Array:
    """Rises 0.5 m per metre east; nobody knows it west of -100 m."""
    return np.where(xy_m[..., 0] < -100.0, np.nan, 50.0 + 0.5 * xy_m[..., 0])


XY = np.array([[10.0, 0.0], [-10.0, 0.0], [-110.0, 0.0]])
CENTRE = np.array([50.0, 50.0, 50.0])


def test_height_over_what_is_filmed() -> None:
    found = raised(XY, 6.0, "rider", CENTRE, slope, math.nan)
    np.testing.assert_array_equal(found.xyz_m[:, 2], 56.0)
    np.testing.assert_array_equal(found.xyz_m[:, :2], XY)
    assert found.known.all()


def test_height_over_the_higher_ground() -> None:
    found = raised(XY, 6.0, "higher-ground", CENTRE, slope, math.nan)
    np.testing.assert_array_equal(found.xyz_m[:, 2], [61.0, 56.0, 56.0])
    np.testing.assert_array_equal(found.known, [True, True, False])


def test_height_over_the_launch() -> None:
    found = raised(XY, 6.0, "launch", CENTRE, slope, 41.0)
    np.testing.assert_array_equal(found.xyz_m[:, 2], 47.0)
    assert found.known.all()
    unknown = raised(XY, 6.0, "launch", CENTRE, slope, math.nan)
    np.testing.assert_array_equal(unknown.xyz_m[:, 2], 56.0)
    assert not unknown.known.any()


def test_heights_that_differ_from_sample_to_sample() -> None:
    found = raised(XY, np.array([6.0, 7.0, 8.0]), "rider", CENTRE, slope, math.nan)
    np.testing.assert_array_equal(found.xyz_m[:, 2], [56.0, 57.0, 58.0])


def test_the_camera_aims_a_metre_over_the_ground_point() -> None:
    np.testing.assert_array_equal(aim_at(np.zeros((2, 3))), [[0.0, 0.0, 1.0]] * 2)


def test_a_place_stands_still_and_borrows_the_elevation_it_lacks() -> None:
    rider = np.array([[[0.0, 0.0, 5.0], [1.0, 0.0, 6.0]]])
    foot = np.array([40.0, 3.0, 30.0])
    found = at_place(foot, rider)
    np.testing.assert_array_equal(found.xyz_m, [[foot, foot]])
    assert found.known.tolist() == [[True, True]]
    unknown = at_place(np.array([40.0, 3.0, math.nan]), rider)
    np.testing.assert_array_equal(unknown.xyz_m, [[[40.0, 3.0, 5.0], [40.0, 3.0, 6.0]]])
    assert unknown.known.tolist() == [[False, False]]
