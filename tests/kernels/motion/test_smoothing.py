"""The smoother against the same model solved another way, and against rides of known truth."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import linalg
from scipy.interpolate import CubicHermiteSpline

from shotplan.kernels.motion.smoothing import (
    DENSITY_M2_S3,
    FIRST_M_S,
    JITTER_M,
    Noise,
    hermite,
    likeliest,
    log_likelihood,
    smoothed,
)

Array = NDArray[np.float64]


def covariance(t_s: Array, density: float) -> tuple[Array, Array]:
    """Of the places at `t_s`, and of velocities with places, for integrated white acceleration
    with a diffuse first velocity and a first place that is known exactly: the Wiener process
    integrated (Rasmussen and Williams 2006, equation 6.28, the cubic spline's kernel)."""
    a, b = np.meshgrid(t_s, t_s, indexing="ij")
    low = np.minimum(a, b)
    places = density * (low**2 * np.maximum(a, b) / 2.0 - low**3 / 6.0) + FIRST_M_S**2 * a * b
    slopes = density * np.where(a <= b, a * b - a**2 / 2.0, b**2 / 2.0) + FIRST_M_S**2 * b
    return places, slopes


times = st.lists(st.floats(0.2, 6.0), min_size=4, max_size=25).map(np.cumsum)


@given(times, st.floats(0.06, 2.5), st.floats(0.06, 9.0), st.integers(0, 10_000))
def test_it_is_the_posterior_of_a_gaussian_process(
    steps: Array, jitter: float, density: float, seed: int
) -> None:
    t = np.concatenate([[0.0], steps])
    rng = np.random.default_rng(seed)
    xy = np.cumsum(rng.normal(0.0, 4.0, (len(t), 2)), axis=0)
    found = smoothed(t, xy, Noise(jitter, density))
    # The filter knows its first place only as well as the first fix: so does this mean.
    places, slopes = covariance(t, density)
    places = places + jitter**2  # the first place, shared by all, seen through the first fix
    noise = np.diag(np.full(len(t) - 1, jitter**2))
    seen, told = places[1:, 1:] + noise, xy[1:] - xy[0]
    np.testing.assert_allclose(
        found.xy_m, xy[0] + places[:, 1:] @ np.linalg.solve(seen, told), atol=2e-4
    )
    np.testing.assert_allclose(
        found.velocity_m_s, slopes[:, 1:] @ np.linalg.solve(seen, told), atol=2e-4
    )


@given(times, st.floats(0.06, 2.5), st.floats(0.06, 9.0), st.integers(0, 10_000))
def test_the_likelihood_is_that_of_the_process(
    steps: Array, jitter: float, density: float, seed: int
) -> None:
    t = np.concatenate([[0.0], steps])
    rng = np.random.default_rng(seed)
    xy = np.cumsum(rng.normal(0.0, 4.0, (len(t), 2)), axis=0)
    seen = covariance(t, density)[0][1:, 1:] + jitter**2 + np.diag(np.full(len(t) - 1, jitter**2))
    root = linalg.cholesky(seen, lower=True)
    told = linalg.solve_triangular(root, xy[1:] - xy[0], lower=True)
    by_scipy = -2.0 * np.log(np.diag(root)).sum() - 0.5 * (told**2).sum()
    found = log_likelihood(t, xy, Noise(jitter, density))
    # Squares of 1000 m/s beside those of centimetres: the matrix loses the ninth digit.
    assert found == pytest.approx(by_scipy, rel=1e-5, abs=5e-3)


@pytest.mark.parametrize(("jitter", "density"), [(0.2, 0.5), (0.6, 0.3), (1.5, 4.0)])
def test_the_noise_of_a_made_recording_is_found(jitter: float, density: float) -> None:
    rng = np.random.default_rng(7)
    dt, count = 1.0, 1500
    q = density * np.array([[dt**3 / 3.0, dt**2 / 2.0], [dt**2 / 2.0, dt]])
    shaken = rng.multivariate_normal(np.zeros(2), q, (count, 2))
    state, places = np.zeros((2, 2)), []
    for k in range(count):
        state = np.stack([state[:, 0] + dt * state[:, 1], state[:, 1]], axis=-1) + shaken[k]
        places.append(state[:, 0])
    xy = np.asarray(np.array(places) + jitter * rng.normal(size=(count, 2)), dtype=float)
    found = likeliest(np.arange(float(count)) * dt, xy)
    assert found.jitter_m == pytest.approx(jitter, rel=0.15)
    assert found.density_m2_s3 == pytest.approx(density, rel=0.25)


def test_it_stays_within_its_ranges() -> None:
    t = np.arange(60.0)
    still = likeliest(t, np.column_stack([5.0 * t, np.zeros(60)]))
    assert still == pytest.approx((JITTER_M[0], DENSITY_M2_S3[0]))
    wild = likeliest(t, np.random.default_rng(1).normal(0.0, 50.0, (60, 2)))
    assert wild == pytest.approx((JITTER_M[1], DENSITY_M2_S3[1]))


def test_an_even_ride_stays_as_it_is() -> None:
    t = np.arange(30.0)
    xy = np.column_stack([5.0 * t, -3.0 * t])
    found = smoothed(t, xy, likeliest(t, xy))
    np.testing.assert_allclose(found.xy_m, xy, atol=1e-6)
    np.testing.assert_allclose(found.velocity_m_s, np.tile([5.0, -3.0], (30, 1)), atol=1e-6)


def test_the_curve_is_scipys() -> None:
    rng = np.random.default_rng(2)
    t = np.cumsum(rng.uniform(0.5, 3.0, 12))
    xy, velocity = rng.normal(size=(12, 2)), rng.normal(size=(12, 2))
    at = np.linspace(t[0], t[-1], 200)
    np.testing.assert_allclose(
        hermite(t, xy, velocity, at), CubicHermiteSpline(t, xy, velocity)(at), atol=1e-12
    )
