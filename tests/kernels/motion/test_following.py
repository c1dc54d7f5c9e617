import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shotplan.kernels.motion.following import Array, Flown, Limits, as_it_was, follow

STEP = 0.1
FREE = Limits(1e6, 1e6, 1e6, 1e6)
USUAL = Limits(12.0, 4.0, 3.0, 4.0)
STILL = np.zeros(3)


def fly(
    wish: Array,
    first: int = 0,
    delay_s: float | Array = 0.5,
    w: float | Array = 0.9,
    limits: Limits = FREE,
    wind: Array = STILL,
    own: bool = False,
    substep_s: float = 0.02,
) -> Flown:
    return follow(wish, first, STEP, delay_s, w, limits, wind, own, substep_s)


def wandering(seed: int, rides: int = 3, samples: int = 80) -> Array:
    """Smooth wishes that speed up, brake, turn and climb."""
    rng = np.random.default_rng(seed)
    t = np.arange(samples) * STEP
    phase = rng.uniform(0, 2 * math.pi, (rides, 1, 3))
    rate = rng.uniform(0.2, 1.2, (rides, 1, 3))
    size = rng.uniform(0.5, 8.0, (rides, 1, 3)) * [1.0, 1.0, 0.3]
    speed = rng.uniform(-6.0, 6.0, (rides, 1, 3)) * [1.0, 1.0, 0.1]
    return np.asarray(speed * t[:, None] + size * np.sin(rate * t[:, None] + phase))


def test_looks_back_by_a_fraction_of_a_sample() -> None:
    line = np.array([[[0.0, 0.0, 0.0], [1.0, 2.0, 0.0], [4.0, 2.0, 8.0]]])
    was = as_it_was(line, 1, 0.25)
    np.testing.assert_allclose(was[0], [[0.75, 1.5, 0.0], [3.25, 2.0, 6.0]])


def test_goes_straight_on_before_the_first_sample_and_after_the_last() -> None:
    line = np.array([[[0.0, 0.0, 0.0], [1.0, 2.0, 0.0], [4.0, 2.0, 8.0]]])
    np.testing.assert_allclose(as_it_was(line, 0, 3.0)[0, 0], [-3.0, -6.0, 0.0])
    np.testing.assert_allclose(as_it_was(line, 2, -1.0)[0, 0], [7.0, 2.0, 16.0])


def test_starts_against_the_delayed_set_point() -> None:
    wish = wandering(1)
    flown = fly(wish, first=10)
    np.testing.assert_allclose(flown.xyz_m[:, 0], wish[:, 5])
    # 0.5 s ago is sample 5; v* is the difference over half a step to each side of it.
    np.testing.assert_allclose(flown.velocity_m_s[:, 0], (wish[:, 6] - wish[:, 4]) / 2.0 / STEP)
    np.testing.assert_array_equal(flown.velocity_m_s[:, 0], flown.setpoint_velocity_m_s[:, 0])


def test_a_set_point_faster_than_it_can_fly_is_met_at_the_limit() -> None:
    wish = np.zeros((1, 50, 3))
    wish[0, :, 0] = 20.0 * STEP * np.arange(50)
    flown = fly(wish, first=10, limits=USUAL)
    np.testing.assert_allclose(flown.velocity_m_s[0, :, 0], 12.0)
    np.testing.assert_allclose(np.diff(flown.xyz_m[0, :, 0]), 1.2)
    np.testing.assert_allclose(flown.setpoint_velocity_m_s[0, :, 0], 20.0)


def test_returns_the_samples_from_first_on() -> None:
    flown = fly(wandering(2, rides=2, samples=150), first=20)
    assert flown.xyz_m.shape == flown.velocity_m_s.shape == (2, 130, 3)
    assert flown.setpoint_velocity_m_s.shape == (2, 130, 3)
    assert flown.asked_m_s2.shape == (2, 130)


def test_one_sample_is_not_a_wish() -> None:
    with pytest.raises(ValueError, match="at least 2 samples, got 1"):
        fly(np.zeros((1, 1, 3)))


@pytest.mark.parametrize("delay", [0.0, 0.37, 0.5])
def test_at_steady_speed_it_trails_by_the_delay(delay: float) -> None:
    t = np.arange(100) * STEP
    wish = (t[:, None] * np.array([3.0, -4.0, 0.5]))[None]
    flown = fly(wish, delay_s=delay)
    trailing = wish[0] - delay * np.array([3.0, -4.0, 0.5])
    np.testing.assert_allclose(flown.xyz_m[0], trailing, atol=1e-9)
    np.testing.assert_allclose(flown.asked_m_s2, 0.0, atol=1e-9)


def test_a_step_is_answered_as_the_law_says() -> None:
    # A step s of p* carries an impulse of v*: p = s - s(1 - wt)e^(-wt), t from the middle of the
    # 0.1 s in which the step happens. It overshoots by s·e^(-2) at wt = 2.
    wish = np.zeros((1, 100, 3))
    wish[0, 10:, 0] = 3.0
    flown = fly(wish, delay_s=0.0)
    t = (np.arange(90) + 0.5) * STEP
    expected = 3.0 - 3.0 * (1.0 - 0.9 * t) * np.exp(-0.9 * t)
    np.testing.assert_allclose(flown.xyz_m[0, 11:, 0], expected[1:], atol=0.01)
    assert flown.xyz_m.max() == pytest.approx(3.0 + 3.0 * math.exp(-2.0), abs=0.01)


def test_acceleration_is_cut_along_its_own_direction() -> None:
    wish = np.zeros((1, 30, 3))
    wish[0, 5:] = [30.0, 40.0, 0.0]
    limits = Limits(1e6, 1e6, 1e6, 2.0)
    flown = fly(wish, delay_s=0.0, limits=limits)
    gained = np.diff(flown.velocity_m_s[0, :, :2], axis=0) / STEP
    assert np.hypot(*gained.T).max() == pytest.approx(2.0, abs=1e-9)
    moving = np.hypot(*flown.velocity_m_s[0, :, :2].T) > 0.1
    np.testing.assert_allclose(
        flown.velocity_m_s[0, moving, 0] * 4.0, flown.velocity_m_s[0, moving, 1] * 3.0
    )
    assert flown.asked_m_s2.max() > 20.0  # what was asked is told before the cut


def test_airspeed_is_cut_not_ground_speed() -> None:
    t = np.arange(400) * STEP
    wish = np.zeros((1, 400, 3))
    wish[0, :, 0] = 9.0 * t
    wind = np.array([-4.0, 3.0, 0.0])
    flown = fly(wish, limits=USUAL, wind=wind)
    through_air = np.hypot(*(flown.velocity_m_s[0, 1:, :2] - wind[:2]).T)
    assert through_air.max() <= 12.0 + 1e-9
    assert through_air[-1] == pytest.approx(12.0, abs=1e-6)
    # 13 ahead and 3 across would be needed: it falls behind and is blown to the side.
    assert flown.xyz_m[0, -1, 0] < wish[0, -1, 0] - 5.0
    # Moving at less than the limit through a tail wind it does 15 over the ground.
    quick = np.zeros((1, 400, 3))
    quick[0, :, 0] = 15.0 * t
    tail = fly(quick, limits=USUAL, wind=np.array([4.0, 0.0, 0.0]))
    np.testing.assert_allclose(tail.velocity_m_s[0, :, 0], 15.0)


def test_climb_and_sink_are_cut_and_vertical_acceleration_is_free() -> None:
    wish = np.zeros((2, 100, 3))
    wish[0, 5:, 2] = 40.0
    wish[1, 5:, 2] = -40.0
    flown = fly(wish, delay_s=0.0, limits=USUAL)
    assert flown.velocity_m_s[0, :, 2].max() == 4.0
    assert flown.velocity_m_s[1, :, 2].min() == -3.0
    # At the limit the place moves with the limited speed.
    np.testing.assert_allclose(np.diff(flown.xyz_m[0, 20:40, 2]), 0.4)
    np.testing.assert_allclose(np.diff(flown.xyz_m[1, 20:40, 2]), -0.3)
    gained = np.diff(flown.velocity_m_s[0, :, 2]) / STEP
    assert gained.max() > 4.0 / STEP * 0.5
    np.testing.assert_array_equal(flown.asked_m_s2, 0.0)


def test_a_wish_with_its_own_acceleration_is_flown_as_wished() -> None:
    t = np.arange(300) * STEP
    turn = 0.25 * t
    wish = np.stack([20.0 * np.sin(turn), 20.0 * np.cos(turn), 8.0 + 0.0 * t], axis=-1)[None]
    flown = fly(wish, first=5, delay_s=0.0, own=True, limits=USUAL)
    np.testing.assert_allclose(flown.xyz_m[0], wish[0, 5:], atol=0.02)


def test_the_answer_does_not_depend_on_the_other_rides() -> None:
    wish = wandering(3, rides=7)
    delay, w = np.linspace(0.2, 0.9, 7), np.linspace(0.6, 1.4, 7)
    wind = np.random.default_rng(4).normal(size=(7, 3))
    together = fly(wish, 10, delay, w, USUAL, wind)
    for row in (0, 3, 6):
        one = slice(row, row + 1)
        alone = fly(wish[one], 10, delay[one], w[one], USUAL, wind[row])
        for a, b in zip(alone, together, strict=True):
            np.testing.assert_array_equal(a[0], b[row])


def test_length_of_a_block_does_not_show(monkeypatch: pytest.MonkeyPatch) -> None:
    wish = wandering(5)
    whole = fly(wish, 10, limits=USUAL)
    monkeypatch.setattr("shotplan.kernels.motion.following.BLOCK", 7)
    for a, b in zip(fly(wish, 10, limits=USUAL), whole, strict=True):
        np.testing.assert_allclose(a, b, atol=1e-9)


@settings(deadline=None, max_examples=12)
@given(seed=st.integers(0, 10_000))
def test_finer_steps_converge(seed: int) -> None:
    wish = wandering(seed)
    fine = fly(wish, 10, limits=FREE, substep_s=0.005).xyz_m
    error = [
        float(np.abs(fly(wish, 10, limits=FREE, substep_s=h).xyz_m - fine).max())
        for h in (0.1, 0.05, 0.02)
    ]
    assert error[2] < 0.002
    assert error[2] < error[0] / 4.0 + 1e-9
    assert error[1] < error[0]


@settings(deadline=None, max_examples=12)
@given(seed=st.integers(0, 10_000))
def test_finer_steps_converge_at_the_limits_too(seed: int) -> None:
    wish = 3.0 * wandering(seed)
    coarse = fly(wish, 10, limits=USUAL).xyz_m
    fine = fly(wish, 10, limits=USUAL, substep_s=0.005).xyz_m
    assert np.abs(coarse - fine).max() < 0.1


@settings(deadline=None, max_examples=12)
@given(
    seed=st.integers(0, 10_000),
    turn=st.floats(-math.pi, math.pi),
    mirror=st.booleans(),
)
def test_turning_and_mirroring_the_world_turns_and_mirrors_the_flight(
    seed: int, turn: float, mirror: bool
) -> None:
    c, s = math.cos(turn), math.sin(turn)
    world = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    if mirror:
        world = world @ np.diag([-1.0, 1.0, 1.0])
    wish = 3.0 * wandering(seed)
    wind = np.array([3.0, -2.0, 0.0])
    here = fly(wish, 10, limits=USUAL, wind=wind)
    there = fly(wish @ world.T, 10, limits=USUAL, wind=world @ wind)
    np.testing.assert_allclose(there.xyz_m, here.xyz_m @ world.T, atol=1e-7)
    np.testing.assert_allclose(there.velocity_m_s, here.velocity_m_s @ world.T, atol=1e-7)
    np.testing.assert_allclose(there.asked_m_s2, here.asked_m_s2, atol=1e-7)
