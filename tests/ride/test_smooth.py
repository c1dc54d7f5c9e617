"""Recordings of known truth: the smoothed ride is nearer to it than the recording."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from shotplan.ride.along import sampled
from shotplan.ride.smooth import held_still, smooth
from tests.ride.truth import Truth, recorded, ridden

Array = NDArray[np.float64]


def far_m(truth: Truth, t_s: Array, xy_m: Array) -> float:
    """Root mean square distance to the truth over the ride, every 0.1 s."""
    at = np.arange(0.0, t_s[-1], 0.1)
    off = [
        np.interp(at, t_s, xy_m[:, i]) - np.interp(at, truth.t_s, truth.xy_m[:, i]) for i in (0, 1)
    ]
    return float(np.sqrt((np.square(off[0]) + np.square(off[1])).mean()))


@pytest.mark.parametrize("jitter_m", [0.0, 0.1, 0.35, 0.7])
@pytest.mark.parametrize("seed", range(10))
def test_smoothing_never_takes_it_farther_from_the_truth(seed: int, jitter_m: float) -> None:
    """Under a drift, which nobody can smooth away and which is nearly all of the distance, a
    hundredth may be lost by chance."""
    truth = ridden(seed)
    for drift_m, times in ((0.0, 1.0), (2.0, 1.01)):
        t, xy = recorded(truth, seed, jitter_m, drift_m)
        path = smooth(t, xy, [])
        assert far_m(truth, path.t_s, path.xy_m) <= times * far_m(truth, t, xy)


@pytest.mark.parametrize("jitter_m", [0.0, 0.35, 0.7])
def test_the_stop_is_one_point(jitter_m: float) -> None:
    truth = ridden(3)
    t, xy = recorded(truth, 3, jitter_m, drift_m=0.0)
    remarks: list[str] = []
    path = smooth(t, xy, remarks)
    legs = np.hypot(*np.diff(path.xy_m, axis=0).T)
    still_s = float(np.diff(path.t_s)[legs < 1e-9].sum())
    assert still_s == pytest.approx(20.0, abs=3.0)
    assert remarks[-1].startswith("1 stop held still")


def standing(wander_m: float) -> tuple[Array, Array, slice]:
    """Riding in at 6 m/s, 40 s on the spot, riding on."""
    rng = np.random.default_rng(3)
    east = np.concatenate([np.arange(10) * 6.0, np.full(41, 60.0), 60.0 + np.arange(1, 11) * 6.0])
    xy = np.column_stack([east, np.zeros_like(east)])
    on_the_spot = slice(10, 51)
    xy[on_the_spot] += rng.uniform(-wander_m, wander_m, (41, 2))
    return xy, np.linspace(0.0, 60.0, 61), on_the_spot


def test_wander_on_the_spot_is_held_still() -> None:
    xy, t, _ = standing(0.6)
    remarks: list[str] = []
    held, still = held_still(t, xy, np.gradient(standing(0.0)[0], t, axis=0), remarks)
    assert np.ptp(held[still], axis=0).max() == 0.0
    assert np.linalg.norm(held[20] - [60.0, 0.0]) < 0.5
    assert set(range(11, 50)) <= set(np.flatnonzero(still)) <= set(range(10, 51))
    np.testing.assert_array_equal(held[:10], xy[:10])
    np.testing.assert_array_equal(held[51:], xy[51:])
    assert remarks[0].startswith("1 stop held still (")


def test_walking_pace_is_not_standing() -> None:
    t = np.arange(60.0)
    xy = np.column_stack([0.8 * t, np.zeros(60)])
    held, still = held_still(t, xy, np.gradient(xy, t, axis=0), [])
    np.testing.assert_array_equal(held, xy)
    assert not still.any()


def test_far_fixes_are_joined_straight_and_near_ones_by_a_curve() -> None:
    angle = np.linspace(0.0, np.pi, 13)
    xy = 30.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    near = smooth(np.arange(13.0) * 2.0, xy, [])
    assert abs(np.hypot(*near.xy_m.T) - 30.0).max() < 0.35  # the chord would be 0.26 m off, inside
    assert len(near.t_s) > 200
    far = smooth(np.arange(13.0) * 6.0, xy, [])
    assert len(far.t_s) == 13


@pytest.mark.parametrize("drifts_m", [1.0, 2.6, 4.0])
def test_the_drift_of_a_receiver_while_he_stands_is_no_ride(drifts_m: float) -> None:
    """North at 6 m/s, 40 s on the spot while the fixes drift aside, on to the north: at no moment
    does he seem to ride another way."""
    t = np.arange(61.0)
    north = 6.0 * np.minimum(t, 10.0) + 6.0 * np.maximum(t - 50.0, 0.0)
    east = drifts_m * np.clip((t - 10.0) / 40.0, 0.0, 1.0)
    jitter = np.random.default_rng(4).normal(0.0, 0.1, (61, 2))
    path = smooth(t, np.column_stack([east, north]) + jitter, [])
    ride = sampled(path, lambda xy: np.zeros(len(xy)))
    off = np.degrees(np.abs(np.mod(ride.course_rad[0] + np.pi, 2.0 * np.pi) - np.pi))
    assert off.max() < 20.0
    assert (ride.speed_m_s[0, 150:450] < 1.0).all()
