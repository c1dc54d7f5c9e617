"""Light: what must hold for every height of the sun."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shotplan.kernels.light import light

DEGREES = st.floats(-90.0, 90.0)


@given(DEGREES, DEGREES)
def test_a_higher_sun_never_gives_less_light(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert light.lux(np.array(np.radians(low))) <= light.lux(np.array(np.radians(high)))


@given(st.floats(0.001, 110_000.0))
def test_the_table_reads_both_ways(lux: float) -> None:
    elevation = np.array(np.radians(light.elevation_deg(lux)))
    assert float(light.lux(elevation)) == pytest.approx(lux, rel=1e-6)


@pytest.mark.parametrize(
    ("azimuth_deg", "elevation_deg", "wanted"),
    [(0.0, 0.0, (0, 1, 0)), (90.0, 0.0, (1, 0, 0)), (180.0, 0.0, (0, -1, 0)),
     (270.0, 0.0, (-1, 0, 0)), (123.0, 90.0, (0, 0, 1))],
)  # fmt: skip
def test_azimuths_run_clockwise_from_north(
    azimuth_deg: float, elevation_deg: float, wanted: tuple[float, float, float]
) -> None:
    got = light.toward(np.array(np.radians(azimuth_deg)), np.array(np.radians(elevation_deg)))
    np.testing.assert_allclose(got, wanted, atol=1e-12)


@pytest.mark.parametrize(
    ("sun_deg", "side"),
    # The camera looks north. Trade convention: the sun within 45° of the axis is back light.
    [(0.0, "back"), (44.0, "back"), (-46.0, "three-quarter back"), (90.0, "side"),
     (-104.0, "side"), (106.0, "three-quarter front"), (180.0, "front")],
)  # fmt: skip
def test_from_which_side_the_light_falls(sun_deg: float, side: str) -> None:
    axis = np.array([0.0, 12.0, 0.0])
    toward = light.toward(np.array(np.radians(sun_deg)), np.array(0.0))
    assert light.SIDES[int(light.side(axis, toward))] == side


def test_angle_of_nothing_is_nothing() -> None:
    up = np.array([0.0, 0.0, 2.0])
    assert light.angle_rad(up, np.zeros(3)) == 0.0
    assert light.angle_rad(up, -up) == pytest.approx(np.pi)


@pytest.mark.parametrize(
    ("off_deg", "high_deg", "blinds"),
    # On the sky cos(angle) = cos(high) cos(off): 15° off and 15° high is 21.1° away.
    [(0.0, 19.0, True), (0.0, 21.0, False), (15.0, 10.0, True), (15.0, 15.0, False),
     (0.0, -1.0, False), (180.0, 5.0, False)],
)  # fmt: skip
def test_only_a_low_sun_near_the_axis_blinds(off_deg: float, high_deg: float, blinds: bool) -> None:
    sun = light.Light(1e5, np.radians(70.0), np.radians(high_deg), False)
    assert bool(light.dazzled(sun, np.array(np.radians(70.0 + off_deg)))) is blinds
