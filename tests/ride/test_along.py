"""The rider every 0.1 s, and a shot's part of it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from shotplan.model.ride import Ride
from shotplan.ride.along import downhill_rad, part, sampled
from shotplan.ride.path import Path, at_speed, there_and_back

Array = NDArray[np.float64]


def level(xy: Array) -> Array:
    return np.full(xy.shape[:-1], 84.0)


def slope(xy: Array) -> Array:
    """Falls 0.3 m per metre toward the east, rises 0.4 toward the north; known west of 100 m."""
    return np.where(xy[..., 0] < 100.0, -0.3 * xy[..., 0] + 0.4 * xy[..., 1], np.nan)


def eastward(length_m: float = 60.0, speed_m_s: float = 6.0) -> Ride:
    return sampled(at_speed(np.array([[0.0, 0.0], [length_m, 0.0]]), speed_m_s), level)


def test_an_even_ride() -> None:
    ride = eastward()
    assert ride.t_s.shape == (101,)
    np.testing.assert_allclose(ride.xyz_m[0, :, 0], np.arange(101) * 0.6)
    np.testing.assert_allclose(ride.along_m[0], np.arange(101) * 0.6)
    np.testing.assert_allclose(ride.speed_m_s, 6.0)
    np.testing.assert_allclose(ride.course_rad, np.pi / 2)
    np.testing.assert_allclose(ride.xyz_m[..., 2], 84.0)
    assert ride.filming.all()
    assert ride.ground_known.all()


def test_a_last_partial_step_is_dropped() -> None:
    ride = eastward(length_m=59.9)
    assert len(ride.t_s) == 100
    np.testing.assert_allclose(ride.along_m[0, -1], 59.4)


def test_the_course_turns_over_two_seconds() -> None:
    corner = at_speed(np.array([[0.0, -60.0], [0.0, 0.0], [60.0, 0.0]]), 6.0)
    ride = sampled(corner, level)
    at = {round(float(t), 1): k for k, t in enumerate(ride.t_s)}
    course = np.degrees(ride.course_rad[0])
    # From 1 s before to 1 s after: on the corner 6 m north and 6 m east in 2 s.
    np.testing.assert_allclose(course[[at[9.0], at[10.0], at[11.0]]], [0.0, 45.0, 90.0], atol=1e-6)
    np.testing.assert_allclose(ride.speed_m_s[0, at[10.0]], np.hypot(3.0, 3.0))
    # 0.2 s before it: 7.2 m from before, 4.8 m after.
    np.testing.assert_allclose(course[at[9.8]], np.degrees(np.arctan2(4.8, 7.2)), atol=1e-6)


def test_the_course_is_held_while_standing() -> None:
    xy = np.array([[0.0, 0], [0, 0], [60, 0], [60, 0], [60, 60]])
    ride = sampled(Path(t_s=np.array([0.0, 10, 20, 30, 40]), xy_m=xy), level)
    course = np.degrees(ride.course_rad[0])
    np.testing.assert_allclose(course[:90], 90.0)  # before he first moves: the way he will go
    np.testing.assert_allclose(course[210:293], 90.0)  # while he stands: the way he came
    np.testing.assert_allclose(course[310:], 0.0, atol=1e-6)
    np.testing.assert_allclose(ride.speed_m_s[0, 210:290], 0.0)


def test_where_the_ground_is_unknown_z_stays() -> None:
    ride = sampled(at_speed(np.array([[80.0, 0.0], [140.0, 0.0]]), 6.0), slope)
    known = ride.ground_known[0]
    assert known.sum() == 34
    np.testing.assert_allclose(ride.xyz_m[0, ~known, 2], ride.xyz_m[0, known, 2][-1])
    back = sampled(at_speed(np.array([[140.0, 0.0], [80.0, 0.0]]), 6.0), slope)
    first = back.xyz_m[0, back.ground_known[0], 2][0]
    np.testing.assert_allclose(back.xyz_m[0, :40, 2], first)


def test_a_part_counts_from_its_first_sample_and_leads_in_on_the_real_ride() -> None:
    corner = sampled(at_speed(np.array([[0.0, -60.0], [0.0, 0.0], [60.0, 0.0]]), 6.0), level)
    shot = part(corner, 66.0, 90.0, 5.0, level)
    assert shot.t_s[shot.first] == pytest.approx(0.0, abs=1e-9)
    assert shot.t_s[0] == pytest.approx(-5.0)
    assert shot.filming.sum() == 41
    assert shot.t_s[-1] == pytest.approx(4.0 + 1.5)
    np.testing.assert_allclose(shot.xyz_m[0, 0, :2], [0.0, -24.0], atol=1e-9)
    np.testing.assert_allclose(shot.along_m[0, shot.filmed][[0, -1]], [66.0, 90.0])


def test_a_part_goes_straight_on_beyond_the_ends() -> None:
    shot = part(eastward(), 0.0, 60.0, 3.0, level)
    np.testing.assert_allclose(shot.xyz_m[0, :, 0], np.linspace(-18.0, 69.0, 146))
    np.testing.assert_allclose(shot.along_m[0], np.linspace(-18.0, 69.0, 146))
    np.testing.assert_allclose(shot.speed_m_s, 6.0)
    np.testing.assert_allclose(shot.course_rad, np.pi / 2)
    assert shot.filming[0, 30:131].all()
    assert shot.filming.sum() == 101


def test_the_lead_in_has_the_ground_s_own_height() -> None:
    ride = sampled(at_speed(np.array([[70.0, 0.0], [98.0, 0.0]]), 4.0), slope)
    shot = part(ride, 0.0, 28.0, 5.0, slope)
    np.testing.assert_allclose(shot.xyz_m[0, 0], [50.0, 0.0, -15.0], atol=1e-9)
    assert not shot.ground_known[0, -1]
    np.testing.assert_allclose(shot.xyz_m[0, -1, 2], shot.xyz_m[0, shot.ground_known[0]][-1, 2])


def test_an_empty_part_is_refused() -> None:
    with pytest.raises(ValueError, match="no sample"):
        part(eastward(), 30.1, 30.2, 5.0, level)


@given(st.floats(0.0, 50.0), st.floats(1.0, 60.0), st.floats(0.0, 8.0))
def test_the_filmed_samples_are_the_ride_s_own(start: float, length: float, lead: float) -> None:
    zigzag = np.array([[0.0, 0], [20, 5], [40, -5], [60, 0]])
    ride = sampled(there_and_back(at_speed(zigzag, 5.0)), level)
    shot = part(ride, start, start + length, lead, level)
    inside = (ride.along_m[0] >= start - 1e-9) & (ride.along_m[0] <= start + length + 1e-9)
    for name in ("xyz_m", "speed_m_s", "course_rad", "along_m"):
        np.testing.assert_allclose(
            getattr(shot, name)[0, shot.filmed], getattr(ride, name)[0, inside], atol=1e-9
        )
    np.testing.assert_allclose(np.diff(shot.t_s), 0.1, atol=1e-9)
    assert shot.t_s[0] <= -lead + 1e-9


def test_downhill_is_the_azimuth_of_the_mean_slope() -> None:
    ride = sampled(at_speed(np.array([[0.0, 0.0], [60.0, 0.0]]), 6.0), slope)
    # Falls to the east by 0.3, to the south by 0.4.
    wanted = np.pi - np.arctan2(0.3, 0.4)
    assert downhill_rad(part(ride, 0.0, 60.0, 1.0, slope), slope) == pytest.approx(wanted)
    assert np.isnan(downhill_rad(eastward(), level))


def test_downhill_over_unknown_ground_is_unknown() -> None:
    ride = sampled(at_speed(np.array([[120.0, 0.0], [180.0, 0.0]]), 6.0), slope)
    assert np.isnan(downhill_rad(ride, slope))
