import math
from collections.abc import Callable

import numpy as np
import pytest

from shotplan.model.arrays import Array
from shotplan.model.flight import Stage
from shotplan.model.ride import Ride
from shotplan.model.search import Ladders, Search
from shotplan.styles.side_track import SideTrack


def side(name: str, distance: float = 12.0) -> SideTrack:
    return SideTrack(side=name, distance_m=distance, height_m=6.0)


@pytest.fixture
def north(make_ride: Callable[..., Ride]) -> Ride:
    t = np.arange(60) * 0.1
    return make_ride(np.stack([0.0 * t, 6.0 * t], axis=-1)[None])


@pytest.mark.parametrize(
    ("name", "east", "ahead"),
    [
        ("left", -12, 0),
        ("right", 12, 0),
        ("north", 0, 12),
        ("south", 0, -12),
        ("east", 12, 0),
        ("west", -12, 0),
        ("downhill", -12, 0),
        ("uphill", 12, 0),
    ],
)
def test_sides_of_a_ride_north(
    north: Ride, make_stage: Callable[..., Stage], name: str, east: float, ahead: float
) -> None:
    wish = side(name).place(north, make_stage(downhill_rad=-math.pi / 2))
    offset = wish.camera_xyz_m - north.xyz_m
    np.testing.assert_allclose(offset[0], np.tile([east, ahead, 6.0], (60, 1)), atol=1e-9)
    assert wish.known.all()


def test_toward_and_away_follow_the_bearing_of_the_place(
    north: Ride, make_stage: Callable[..., Stage]
) -> None:
    toward = side("toward:rock").place(north, make_stage()).camera_xyz_m[0]
    away = side("away:rock").place(north, make_stage()).camera_xyz_m[0]
    to_rock = np.array([40.0, 0.0]) - north.xyz_m[0, :, :2]
    unit = to_rock / np.hypot(*to_rock.T)[:, None]
    np.testing.assert_allclose(toward[:, :2], north.xyz_m[0, :, :2] + 12.0 * unit, atol=1e-9)
    np.testing.assert_allclose(away[:, :2], north.xyz_m[0, :, :2] - 12.0 * unit, atol=1e-9)
    assert side("toward:rock").places() == ("rock",)
    assert side("left").places() == ()


@pytest.mark.parametrize("name", ["downhill", "uphill"])
def test_no_slope_is_flown_left_and_unknown(
    north: Ride, make_stage: Callable[..., Stage], name: str
) -> None:
    wish = side(name).place(north, make_stage())
    left = side("left").place(north, make_stage())
    np.testing.assert_array_equal(wish.camera_xyz_m, left.camera_xyz_m)
    assert not wish.known.any()
    assert left.known.all()


def test_unknown_ground_under_the_set_point(north: Ride, make_stage: Callable[..., Stage]) -> None:
    def ground(xy: Array) -> Array:
        return np.where(xy[..., 1] > 15.0, np.nan, 34.0)

    style = SideTrack(side="left", distance_m=12.0, height_m=6.0, height_over="higher-ground")
    wish = style.place(north, make_stage(ground))
    far = north.xyz_m[0, :, 1] > 15.0
    assert far.any()
    assert not far.all()
    np.testing.assert_array_equal(wish.known[0], ~far)
    np.testing.assert_array_equal(wish.camera_xyz_m[0, :, 2], np.where(far, 36.0, 40.0))


@pytest.mark.parametrize(
    "name", ["", "Left", "behind", "toward", "toward:", "left:rock", "near:rock", "northeast"]
)
def test_other_sides_are_refused_in_plain_words(name: str) -> None:
    with pytest.raises(ValueError, match="write left or right"):
        side(name)


def test_words() -> None:
    assert side("left").words() == "side-track, left, 12 m out, 6 m above the rider"
    assert side("north").words() == "side-track, north side, 12 m out, 6 m above the rider"
    assert side("away:rock").words() == "side-track, away from rock, 12 m out, 6 m above the rider"


def test_what_a_search_and_a_card_tell_of_it() -> None:
    assert side("left").label() == "side-track left 12 m, 6 m up"
    assert side("toward:rock").label() == "side-track toward rock 12 m, 6 m up"
    assert side("toward:rock").group() == "side-track, toward rock"
    tries = Ladders(styles=(), sides=("uphill", "left"), side_m=(6.0,), heights_m=(2.5, 4.0))
    search = Search(tries, (), slopes=True)
    found = [(s.side, s.height_m) for s in SideTrack.candidates(search)]
    assert found == [("uphill", 2.5), ("uphill", 4.0), ("left", 2.5), ("left", 4.0)]
    level = SideTrack.candidates(search._replace(slopes=False))
    assert [s.side for s in level] == ["left", "left"]
    assert side("left").easier(1)[0] == side("left", 15.0)
    assert [(one.label, one.told) for one in side("away:rock").settings()] == [
        ("over rider", "6 m"), ("distance", "12 m"), ("side", "away:rock"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("degrees", "held"), [(10, "north"), (80, "east"), (-170, "south"), (-91, "west")]
)
def test_the_side_of_the_world_that_holds_in_bends(degrees: float, held: str) -> None:
    assert side("left").held_side(math.radians(degrees)) == f'side = "{held}"'
    assert side("north").held_side(math.radians(degrees)) == ""
