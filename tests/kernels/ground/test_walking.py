"""Ways on foot: as far as they are, and none over what is too steep or not known."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from shotplan.kernels.ground import walking
from shotplan.kernels.ground.walking import Array, Walk

LINE = np.array([(0.0, y, 0.0) for y in np.arange(-50.0, 51.0, 1.0)])
STEEPEST = np.tan(np.radians(35.0))


def level(xy_m: Array) -> Array:
    return np.zeros(xy_m.shape[:-1])


def walked(ground_m: Callable[[Array], Array], line_m: Array = LINE) -> Walk:
    xy = walking.nodes(np.array([-100.0, -100.0]), np.array([100.0, 100.0]), 5.0)
    line = line_m.copy()
    line[:, 2] = ground_m(line[:, :2])
    return walking.walk_m(xy, ground_m(xy), ground_m, line, STEEPEST)


def test_on_level_ground_it_is_the_straight_line_or_a_little_more() -> None:
    point = LINE[50:51]
    way = walked(level, point)
    xy = np.array([(x, y) for x in (-90.0, 5.0, 60.0) for y in (-75.0, 0.0, 100.0)])
    straight = np.hypot(xy[:, 0], xy[:, 1])
    away = way.at(xy)
    assert (away >= straight - 1e-9).all()
    # Steps in eight directions: at most 1 / cos(22.5 degrees) times as long.
    assert (away <= straight / np.cos(np.radians(22.5)) + 1e-9).all()


def test_from_a_line_it_is_counted_from_its_nearest_point() -> None:
    assert walked(level).at(np.array([(40.0, 0.0), (-70.0, 20.0)])) == pytest.approx([40.0, 70.0])


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_cliff_has_no_way_up_or_down(sign: float) -> None:
    way = walked(lambda xy: np.where(xy[..., 0] > 32.0, sign * 20.0, 0.0))
    assert np.isfinite(way.at(np.array([(30.0, 0.0)]))).all()
    assert np.isinf(way.at(np.array([(35.0, 0.0), (90.0, 90.0)]))).all()


def test_a_way_leads_round_the_end_of_a_cliff() -> None:
    def ground(xy_m: Array) -> Array:
        """A wall of a plateau that slopes down to the north end."""
        rise = np.clip((60.0 - xy_m[..., 1]) * 0.2, 0.0, 20.0)
        return np.where(xy_m[..., 0] > 32.0, rise, 0.0)

    way = walked(ground)
    (away,) = way.at(np.array([(40.0, -50.0)]))
    assert 40.0 + 100.0 < away < 400.0


def test_a_fence_thinner_than_a_step_is_seen() -> None:
    way = walked(lambda xy: np.where(np.abs(xy[..., 0] - 33.7) < 0.8, 30.0, 0.0))
    assert np.isinf(way.at(np.array([(60.0, 0.0)]))).all()


def test_nobody_walks_over_what_is_not_known_or_out_of_the_raster() -> None:
    way = walked(lambda xy: np.where(xy[..., 0] < -20.0, np.nan, 0.0))
    assert np.isinf(way.at(np.array([(-25.0, 0.0), (-60.0, 0.0), (500.0, 0.0)]))).all()
    assert np.isfinite(way.at(np.array([(-20.0, 0.0)]))).all()


def test_as_steep_as_may_be_is_walked_steeper_is_not() -> None:
    # Straight up 35 degrees, and aslant up to 44.7: the tangent is the square root of 2 greater.
    for degrees, reached in ((34.0, True), (44.0, True), (45.5, False)):
        slope = float(np.tan(np.radians(degrees)))

        def ground(xy_m: Array, slope: float = slope) -> Array:
            return np.asarray(slope * xy_m[..., 0])

        assert np.isfinite(walked(ground).at(np.array([(50.0, 0.0)])))[0] == reached
