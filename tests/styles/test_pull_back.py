import math
from collections.abc import Callable
from dataclasses import replace
from typing import Literal

import numpy as np
import pytest

from shotplan.model.flight import Stage
from shotplan.model.ride import Ride
from shotplan.model.search import Ladders, Search
from shotplan.styles.pull_back import PullBack

BACK = PullBack(side="behind", distance_m=6.0, to_distance_m=24.0, height_m=4.0)


@pytest.fixture
def north(make_ride: Callable[..., Ride]) -> Ride:
    """North at 6 m/s, one second of lead-in, 8 s filmed and 1 s more."""
    t = np.arange(101) * 0.1
    return make_ride(np.stack([0.0 * t, 6.0 * t], axis=-1)[None])


@pytest.mark.parametrize(
    ("side", "east", "ahead"),
    [("behind", 0, -1), ("ahead", 0, 1), ("left", -1, 0), ("right", 1, 0)],
)
def test_goes_out_evenly_over_what_is_filmed(
    north: Ride,
    make_stage: Callable[..., Stage],
    side: Literal["behind", "ahead", "left", "right"],
    east: float,
    ahead: float,
) -> None:
    wish = replace(BACK, side=side, to_height_m=10.0).place(north, make_stage(lasts_s=8.0))
    offset = wish.camera_xyz_m[0] - north.xyz_m[0]
    part = np.clip(north.t_s / 8.0, 0.0, 1.0)
    out = 6.0 + 18.0 * part
    expected = np.stack([east * out, ahead * out, 4.0 + 6.0 * part], axis=-1)
    np.testing.assert_allclose(offset, expected, atol=1e-9)
    assert (part == 0.0).sum() == 11
    assert (part == 1.0).sum() == 11
    assert wish.follows_rider
    assert wish.aim_follows_rider
    assert wish.known.all()


@pytest.mark.parametrize("to", [24.0, 2.0])
def test_without_an_end_height_it_keeps_to_the_line_of_sight(
    winding: Ride, make_stage: Callable[..., Stage], to: float
) -> None:
    wish = replace(BACK, to_distance_m=to).place(winding, make_stage())
    sight = wish.camera_xyz_m - wish.aim_xyz_m
    level = np.hypot(sight[..., 0], sight[..., 1])
    assert level.min() == pytest.approx(min(6.0, to))
    assert level.max() == pytest.approx(max(6.0, to))
    np.testing.assert_allclose(sight[..., 2] / level, (4.0 - 1.0) / 6.0)


def test_how_long_it_lasts_is_not_known(north: Ride, make_stage: Callable[..., Stage]) -> None:
    wish = BACK.place(north, make_stage(lasts_s=math.nan))
    assert not wish.known.any()
    expected = np.broadcast_to([0.0, -6.0, 4.0], (101, 3))
    np.testing.assert_allclose(wish.camera_xyz_m[0] - north.xyz_m[0], expected, atol=1e-9)


def test_one_that_does_not_move_or_runs_into_the_ground_is_refused() -> None:
    with pytest.raises(ValueError, match="both 6"):
        replace(BACK, to_distance_m=6.0)
    with pytest.raises(ValueError, match="into the ground at 24 m: give to_height_m"):
        replace(BACK, height_m=0.5)
    assert replace(BACK, height_m=0.5, to_height_m=3.0).height_m == 0.5


def test_words() -> None:
    assert BACK.places() == ()
    assert BACK.words() == (
        "pull-back behind the rider, from 6 m out, 4 m above the rider, to 24 m out, 13 m above"
    )


def test_what_a_card_tells_of_it_and_no_search_has_it() -> None:
    assert (BACK.label(), BACK.group()) == (BACK.words(), "pull-back, behind")
    assert not list(PullBack.candidates(Search(Ladders(styles=()), ("rock",), True)))
    farther, higher, _ = BACK.easier(1)
    assert farther == replace(BACK, distance_m=9.0, to_distance_m=27.0)
    assert higher == replace(BACK, height_m=6.0)  # its end is not given, and stays so
    given = [(one.label, one.told) for one in BACK.settings() if one.value is not None]
    assert given == [
        ("over rider", "4 m"), ("distance", "6 m"), ("ends at", "24 m"), ("side", "behind"),
    ]  # fmt: skip
    ended = replace(BACK, to_height_m=9.0)
    assert ("ends over", "9 m") in [(one.label, one.told) for one in ended.settings()]
