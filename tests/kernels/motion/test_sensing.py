import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shotplan.kernels.light.light import Light
from shotplan.kernels.motion.sensing import Sector, blind, contingency_m, overrun_m, upright_gap_m

AHEAD = Sector("around", math.radians(-45), math.radians(45), 25.0, 10.0)
BEHIND = Sector("around", math.radians(150), math.radians(210), 25.0, 10.0)
ROUND = Sector("around", math.radians(-180), math.radians(180), 25.0, 10.0)
BELOW = Sector("below", 0.0, 0.0, 10.0, 4.0)
ABOVE = Sector("above", 0.0, 0.0, 10.0, 4.0)


def moving(azimuth_deg: float, speed: float = 3.0, upward_deg: float = 0.0) -> np.ndarray:
    a, u = math.radians(azimuth_deg), math.radians(upward_deg)
    return speed * np.array([math.sin(a) * math.cos(u), math.cos(a) * math.cos(u), math.sin(u)])


def is_blind(
    velocity: np.ndarray, *sectors: Sector, nose_deg: float = 0.0, reaction_s: float = 1.0
) -> bool:
    return bool(blind(velocity, np.array(math.radians(nose_deg)), sectors, reaction_s, 4.0))


@pytest.mark.parametrize(
    ("speed", "reaction", "brake", "metres"),
    # d = v·t + v²/(2a), reference/physics.md 3.2 (computed there).
    [(10.0, 1.0, 5.0, 20.0), (15.0, 1.5, 4.0, 50.625), (8.0, 1.0, 3.0, 18.667)],
)
def test_overrun(speed: float, reaction: float, brake: float, metres: float) -> None:
    assert float(overrun_m(np.array(speed), reaction, brake)) == pytest.approx(metres, abs=5e-4)


@pytest.mark.parametrize(
    ("azimuth", "expected"),
    [
        *((a, False) for a in (0, 45, 150, 180, 210, 315, 359)),
        *((a, True) for a in (46, 90, 149, 211, 270, 314)),
    ],
)
def test_directions_seen_from_the_nose(azimuth: float, expected: bool) -> None:
    assert is_blind(moving(azimuth), AHEAD, BEHIND) is expected
    assert is_blind(moving(azimuth + 73.0), AHEAD, BEHIND, nose_deg=73.0) is expected
    assert is_blind(moving(azimuth - 900.0), AHEAD, BEHIND, nose_deg=-900.0) is expected


@pytest.mark.parametrize("azimuth", range(0, 360, 15))
def test_all_round_is_never_blind_and_nothing_always_is(azimuth: int) -> None:
    assert not is_blind(moving(azimuth), ROUND)
    assert is_blind(moving(azimuth))


def test_a_sector_may_be_given_across_the_tail() -> None:
    across = BEHIND._replace(from_rad=math.radians(150), to_rad=math.radians(-150))
    for azimuth in range(0, 360, 7):
        assert is_blind(moving(azimuth), across) is is_blind(moving(azimuth), BEHIND)


def test_below_and_above_begin_beyond_45_degrees() -> None:
    assert not is_blind(moving(0, upward_deg=-44.9), AHEAD)
    assert is_blind(moving(0, upward_deg=-45.1), AHEAD)
    assert is_blind(moving(0, upward_deg=-44.9), BELOW, ABOVE)
    assert not is_blind(moving(120, upward_deg=-45.1), BELOW)
    assert is_blind(moving(120, upward_deg=45.1), BELOW)
    assert not is_blind(moving(120, upward_deg=45.1), ABOVE)


def test_hardly_moving_is_not_blind() -> None:
    assert not is_blind(moving(90, speed=0.5))
    assert is_blind(moving(90, speed=0.501))


def test_too_fast_for_a_sector() -> None:
    far = AHEAD._replace(range_m=1000.0)
    assert not is_blind(moving(0, speed=9.99), far)
    assert is_blind(moving(0, speed=10.01), far)


def test_a_sector_must_see_as_far_as_the_overrun() -> None:
    # 4 m/s, 1 s, 4 m/s²: 4 + 2 = 6 m.
    assert not is_blind(moving(0, speed=4.0), AHEAD._replace(range_m=6.0 + 1e-6))
    assert is_blind(moving(0, speed=4.0), AHEAD._replace(range_m=6.0 - 1e-6))
    assert not is_blind(moving(0, speed=4.0), AHEAD._replace(range_m=5.9), reaction_s=0.9)


@given(
    azimuth=st.floats(-720, 720),
    upward=st.floats(-89, 89),
    speed=st.floats(0, 20),
    nose=st.floats(-720, 720),
)
def test_more_sectors_never_blind_more(
    azimuth: float, upward: float, speed: float, nose: float
) -> None:
    velocity = moving(azimuth, speed, upward)
    few = is_blind(velocity, AHEAD, nose_deg=nose)
    more = is_blind(velocity, AHEAD, BEHIND, BELOW, nose_deg=nose)
    assert few or not more


def test_shapes_are_kept() -> None:
    velocity = np.stack([[moving(0), moving(90)], [moving(180), moving(90, 0.1)]])
    result = blind(velocity, np.zeros((2, 2)), (AHEAD,), 1.0, 4.0)
    np.testing.assert_array_equal(result, [[False, True], [True, False]])


def test_contingency_distance() -> None:
    # reference/physics.md 3.2 (published example): 10 m/s, 45° -> 3 + 3 + 1 + 10 + 5.1 = 22.1 m.
    found = contingency_m(np.array([10.0, 0.0]), math.radians(45.0))
    assert float(found[0]) == pytest.approx(22.1, abs=0.05)
    assert float(found[1]) == pytest.approx(7.0)


def test_upright_gap_is_the_least_over_the_line() -> None:
    rng = np.random.default_rng(8)
    points, feet = rng.normal(0, 3, (200, 3)), rng.normal(0, 3, (200, 3))
    line = feet[:, None] + np.linspace([0, 0, 0], [0, 0, 2], 2001)
    expected = np.linalg.norm(points[:, None] - line, axis=-1).min(axis=1)
    np.testing.assert_allclose(upright_gap_m(points, feet), expected, atol=1e-3)


LIT = Light(300.0, 0.0, math.radians(40.0), False)


def sees(direction_deg: float, light: Light, *sectors: Sector, **more: float) -> bool:
    velocity = moving(direction_deg, **more)
    least = tuple(300.0 for _ in sectors)
    return not bool(blind(velocity, np.array(0.0), sectors, 1.0, 4.0, light, least))


def test_it_sees_in_as_much_light_as_it_needs_and_not_in_less() -> None:
    assert sees(0.0, LIT, AHEAD)
    assert not sees(0.0, LIT._replace(lux=299.9), AHEAD)
    # Each eye has its own need: the one that needs little still sees.
    velocity = moving(0.0)
    assert not blind(velocity, np.array(0.0), (ROUND, AHEAD), 1.0, 4.0, LIT._replace(lux=50.0),
                     (300.0, 10.0))  # fmt: skip


def test_a_low_sun_blinds_the_eye_that_looks_at_it_and_no_other() -> None:
    low = LIT._replace(sun_elevation_rad=math.radians(8.0))  # in the north, before the nose
    assert not sees(0.0, low, AHEAD, BEHIND)
    assert not sees(40.0, low, AHEAD, BEHIND)  # the whole eye, not only toward the sun
    assert sees(180.0, low, AHEAD, BEHIND)
    assert sees(0.0, low._replace(sun_elevation_rad=math.radians(-1.0)), AHEAD)


def test_of_eyes_all_round_only_those_toward_the_sun_are_blinded() -> None:
    low = LIT._replace(sun_elevation_rad=math.radians(8.0))
    assert not sees(5.0, low, ROUND)
    assert sees(60.0, low, ROUND)


def test_water_takes_the_eye_that_looks_down() -> None:
    down = {"speed": 2.0, "upward_deg": -80.0}
    assert sees(0.0, LIT, BELOW, **down)
    assert not sees(0.0, LIT._replace(over_water=True), BELOW, **down)
    assert sees(0.0, LIT._replace(over_water=True), AHEAD)


@given(st.floats(-180.0, 180.0), st.floats(0.0, 1e5), st.floats(0.0, 360.0), st.floats(-20.0, 90.0))
def test_light_never_opens_an_eye(way: float, lux: float, azimuth: float, height: float) -> None:
    sun = Light(lux, math.radians(azimuth), math.radians(height), True)
    if sees(way, sun, AHEAD, BEHIND, BELOW):
        assert not is_blind(moving(way), AHEAD, BEHIND, BELOW)
