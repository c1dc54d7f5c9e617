import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from shotplan.model.flight import Stage
from shotplan.model.ride import Ride
from shotplan.model.search import Ladders, Search
from shotplan.styles.rise import Rise

UP = Rise(at="rock", height_m=2.0, to_height_m=9.0, speed_m_s=1.4)


@pytest.mark.parametrize(("low", "high", "sign"), [(2.0, 9.0, 1.0), (9.0, 2.0, -1.0)])
def test_goes_straight_up_or_down_from_the_first_filmed_sample_and_stays(
    winding: Ride, make_stage: Callable[..., Stage], low: float, high: float, sign: float
) -> None:
    style = replace(UP, height_m=low, to_height_m=high)
    wish = style.place(winding, make_stage())
    np.testing.assert_array_equal(wish.camera_xyz_m[..., 0], 40.0)
    np.testing.assert_array_equal(wish.camera_xyz_m[..., 1], 0.0)
    height = wish.camera_xyz_m[0, :, 2] - 30.0
    np.testing.assert_array_equal(wish.camera_xyz_m[1, :, 2] - 30.0, height)
    np.testing.assert_allclose(height[: winding.first + 1], low)
    # 7 m at 1.4 m/s are 5 s, fifty samples.
    np.testing.assert_allclose(np.diff(height)[winding.first :][:50], sign * 0.14)
    np.testing.assert_allclose(height[winding.first + 50 :], high)
    assert not wish.follows_rider
    assert wish.aim_follows_rider
    np.testing.assert_array_equal(wish.aim_xyz_m, winding.xyz_m + np.array([0.0, 0.0, 1.0]))


def test_a_place_on_unknown_ground(winding: Ride, make_stage: Callable[..., Stage]) -> None:
    wish = UP.place(winding, make_stage(places={"rock": np.array([40.0, 0.0, math.nan])}))
    assert not wish.known.any()
    assert np.isfinite(wish.camera_xyz_m).all()


def test_a_rise_that_does_not_move_is_refused() -> None:
    with pytest.raises(ValueError, match=r'both 2.*"hold"'):
        replace(UP, to_height_m=2.0)


def test_words_and_places() -> None:
    assert UP.places() == ("rock",)
    assert UP.words() == "rise at rock, from 2 m above it to 9 m, at 1.4 m/s"
    over = replace(UP, height_over="launch")
    assert over.words() == "rise at rock, from 2 m above the launch to 9 m, at 1.4 m/s"


def test_what_a_card_tells_of_it_and_no_search_has_it() -> None:
    assert (UP.label(), UP.group()) == (UP.words(), "rise, rock")
    assert not list(Rise.candidates(Search(Ladders(styles=()), ("rock",), True)))
    assert UP.easier(1) == (replace(UP, height_m=4.0, to_height_m=11.0, speed_m_s=1.1),)
    assert [(one.label, one.told) for one in UP.settings()] == [
        ("over its place", "2 m"), ("ends over", "9 m"), ("speed", "1.4 m/s"),
    ]  # fmt: skip
