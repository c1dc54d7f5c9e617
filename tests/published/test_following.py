"""The consequences of the following law, against its closed forms (own derivation)."""

import cmath
import math

import numpy as np
import pytest

from shotplan.kernels.motion.following import Limits, follow

STEP = 0.1
FREE = Limits(1e6, 1e6, 1e6, 1e6)
STILL = np.zeros(3)


@pytest.mark.parametrize(("b", "w"), [(2.0, 0.9), (3.4, 1.3)])
def test_while_the_rider_brakes_it_runs_ahead_by_up_to_b_over_w_squared(b: float, w: float) -> None:
    # Braking from 30 m/s lasts long enough to settle: the lead is b/w²·(1 - (1 + wt)e^(-wt)).
    t = np.arange(int(30.0 / b / STEP) + 20) * STEP - 2.0
    braking = np.maximum(t, 0.0)
    wish = np.zeros((1, len(t), 3))
    wish[0, :, 0] = 30.0 * t - 0.5 * b * braking**2
    flown = follow(wish, 10, STEP, 0.5, w, FREE, STILL, False)
    ago = t[10:] - 0.5
    delayed = 30.0 * ago - 0.5 * b * np.maximum(ago, 0.0) ** 2
    ahead = flown.xyz_m[0, :, 0] - delayed
    since = w * np.maximum(ago, 0.0)
    np.testing.assert_allclose(ahead, b / w**2 * (1.0 - (1.0 + since) * np.exp(-since)), atol=0.005)
    assert ahead[-1] == pytest.approx(b / w**2, rel=0.01)


@pytest.mark.parametrize(("speed", "radius"), [(4.0, 10.0), (6.0, 20.0), (10.0, 15.0)])
def test_round_a_bend_it_settles_on_the_radius_of_the_transfer_function(
    speed: float, radius: float
) -> None:
    # |(w² + 2ws)/(s² + 2ws + w²)| at s = i·v/R, for the second-order law with v* fed forward.
    w = 0.9
    s = 1j * speed / radius
    gain = abs((w**2 + 2 * w * s) / (s**2 + 2 * w * s + w**2))
    t = np.arange(600) * STEP
    turned = speed / radius * t
    wish = radius * np.stack([np.sin(turned), np.cos(turned), 0.0 * t], axis=-1)[None]
    flown = follow(wish, 10, STEP, 0.5, w, FREE, STILL, False)
    settled = np.hypot(*flown.xyz_m[0, -100:, :2].T)
    np.testing.assert_allclose(settled, gain * radius, atol=0.02)
    assert gain > 1.0  # it swings wide of the bend, never inside it


def test_round_a_bend_it_lags_by_the_phase_of_the_transfer_function() -> None:
    w, speed, radius = 0.9, 6.0, 20.0
    s = 1j * speed / radius
    phase = cmath.phase((w**2 + 2 * w * s) / (s**2 + 2 * w * s + w**2))
    t = np.arange(600) * STEP
    turned = speed / radius * t
    wish = radius * np.stack([np.sin(turned), np.cos(turned), 0.0 * t], axis=-1)[None]
    flown = follow(wish, 10, STEP, 0.0, w, FREE, STILL, False)
    bearing = np.arctan2(flown.xyz_m[0, :, 0], flown.xyz_m[0, :, 1])
    lag = np.angle(np.exp(1j * (bearing[-50:] - turned[10:][-50:])))
    np.testing.assert_allclose(lag, phase, atol=0.002)
    assert -math.pi / 2 < phase < 0.0
