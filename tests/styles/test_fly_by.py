from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Literal

import numpy as np
import pytest

from shotplan.kernels.motion.setpoints import HeightOver
from shotplan.model.arrays import Array
from shotplan.model.flight import Stage
from shotplan.model.ride import Ride
from shotplan.model.search import Ladders, Search
from shotplan.styles.fly_by import FlyBy
from tests.worlds import staged

PAST = FlyBy(side="left", distance_m=12.0, height_m=6.0, speed_m_s=9.0, direction="against")


@pytest.fixture
def north(make_ride: Callable[..., Ride]) -> Ride:
    """North at 6 m/s; the second ride is slower. 51 samples are filmed, the middle one is 2.5 s."""
    t = np.arange(61) * 0.1
    return make_ride(np.stack([np.stack([0.0 * t, v * t], axis=-1) for v in (6.0, 4.0)]))


@pytest.mark.parametrize(("side", "east"), [("left", -12.0), ("right", 12.0)])
@pytest.mark.parametrize(("direction", "speed"), [("with", 9.0), ("against", -9.0)])
def test_passes_abeam_at_the_middle_at_its_own_speed(
    north: Ride,
    make_stage: Callable[..., Stage],
    side: Literal["left", "right"],
    east: float,
    direction: Literal["with", "against"],
    speed: float,
) -> None:
    wish = replace(PAST, side=side, direction=direction).place(north, make_stage())
    middle = north.first + 25
    crossing = north.xyz_m[0, middle] + [east, 0.0, 6.0]
    np.testing.assert_allclose(wish.camera_xyz_m[0, middle], crossing, atol=1e-9)
    line = crossing + (north.t_s - 2.5)[:, None] * np.array([0.0, speed, 0.0])
    np.testing.assert_allclose(wish.camera_xyz_m[0], line, atol=1e-9)


def test_all_rides_see_the_line_and_the_clock_of_the_undisturbed_one(
    north: Ride, make_stage: Callable[..., Stage]
) -> None:
    wish = PAST.place(north, make_stage())
    np.testing.assert_array_equal(wish.camera_xyz_m[1], wish.camera_xyz_m[0])
    np.testing.assert_array_equal(wish.aim_xyz_m, north.xyz_m + np.array([0.0, 0.0, 1.0]))
    assert not wish.follows_rider
    assert wish.aim_follows_rider


def test_an_even_number_of_samples_has_its_middle_between_two(
    winding: Ride, make_stage: Callable[..., Stage]
) -> None:
    # 110 samples are filmed: the middle lies half way between number 64 and 65 of all 120.
    wish = PAST.place(winding, make_stage())
    crossing = wish.camera_xyz_m[0, 64:66, :2].mean(axis=0)
    off = crossing - winding.xyz_m[0, 64:66, :2].mean(axis=0)
    assert np.hypot(*off) == pytest.approx(12.0)
    way = np.diff(wish.camera_xyz_m[0, 64:66, :2], axis=0)[0]
    assert np.hypot(*way) == pytest.approx(0.9)
    assert off @ way == pytest.approx(0.0, abs=1e-9)
    courses = winding.course_rad[0, 64:66]
    heading = np.arctan2(-way[0], -way[1])  # against him
    assert courses.min() <= heading <= courses.max()


@pytest.mark.parametrize(
    ("over", "heights"), [("rider", [36, 36]), ("launch", [26, 26]), ("higher-ground", [40, 36])]
)
def test_height_is_level_unless_it_goes_over_the_higher_ground(
    north: Ride, make_stage: Callable[..., Stage], over: HeightOver, heights: list[float]
) -> None:
    def ground(xy: Array) -> Array:
        return np.where(xy[..., 1] > 20.0, 34.0, 27.0)

    wish = replace(PAST, height_over=over).place(north, make_stage(ground))
    z = wish.camera_xyz_m[0, :, 2]
    assert [z[0], z[-1]] == heights
    assert wish.known.all()


def test_unknown_ground_at_the_crossing(north: Ride, make_stage: Callable[..., Stage]) -> None:
    hole = np.ones(north.ground_known.shape, dtype=bool)
    hole[0, north.first + 25] = False
    ride = replace(north, ground_known=hole)
    assert not PAST.place(ride, make_stage()).known.any()
    assert replace(PAST, height_over="launch").place(ride, make_stage()).known.all()


def test_words() -> None:
    assert PAST.places() == ()
    assert PAST.words() == (
        "fly-by on the left, against his course at 9 m/s, 12 m out, 6 m above the rider"
    )


def test_what_a_card_tells_of_it_and_no_search_has_it() -> None:
    assert (PAST.label(), PAST.group()) == (PAST.words(), "fly-by, left")
    assert not list(FlyBy.candidates(Search(Ladders(styles=()), ("rock",), True)))
    assert PAST.easier(1)[0] == replace(PAST, distance_m=15.0, speed_m_s=7.2)
    assert [(one.label, one.told) for one in PAST.settings()] == [
        ("over rider", "6 m"), ("distance", "12 m"), ("side", "left"), ("direction", "against"),
        ("speed", "9 m/s"),
    ]  # fmt: skip


def test_over_the_higher_ground_it_is_flown_as_well(tmp_path: Path) -> None:
    keys = {"style": "fly-by", "height_over": "higher-ground", "distance_m": 12.0, "height_m": 6.0}
    shot = {"name": "past", "side": "left", "speed_m_s": 9.0, "direction": "against", **keys}
    scene = staged(tmp_path, site={"shot": [shot]}, terrain=lambda east, north: 84.0 - 0.5 * east)
    assert scene.wish is not None
    # The line is level in its own place: 12 m to the west the ground is 6 m higher.
    np.testing.assert_allclose(scene.wish.camera_xyz_m[0, :, 2], 84.0 + 6.0 + 6.0, atol=0.05)
    assert scene.braking_gap_m is not None
    assert np.nanmin(scene.braking_gap_m) > 5.0
